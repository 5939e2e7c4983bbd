/** What holds of the parts of a course whatever it is: plan, criteria, shares of a line, times within bounds. */
import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { orderedTimes } from '../../../src/clinic/course/ordered-times.ts';
import { planOf } from '../../../src/clinic/course/plan.ts';
import { sharesOf } from '../../../src/clinic/course/ranges-in-force.ts';
import { reassess } from '../../../src/clinic/course/reassessment.ts';
import { timeInRange } from '../../../src/clinic/course/time-in-range.ts';
import { NICE_REASSESSMENT } from '../../../src/clinic/rules/reassessment-rules.ts';
import { ROSENDAAL_1993 } from '../../../src/clinic/rules/time-in-range-rules.ts';
import { runsOr, seedOr } from '../../support/seed.ts';
import { dated, day, localDate, test, USUAL } from './make-course.ts';

const SEED = seedOr(20260301);
const options = { seed: SEED, numRuns: runsOr(300) };

/** Values as a meter shows them, those beyond its range as well. */
const shown = fc
  .tuple(fc.constantFrom('', '', '', '<', '>'), fc.integer({ min: 5, max: 99 }))
  .map(([s, v]) => s + v / 10);
/** Tests on different days, in order: day and value. */
const course = fc
  .uniqueArray(fc.tuple(fc.integer({ min: 0, max: 399 }), shown), { selector: ([at]) => at, maxLength: 40 })
  .map((list) => list.toSorted(([a], [b]) => a - b));

describe(`the criteria for a reassessment (SEED=${SEED})`, () => {
  const look = (list: readonly (readonly [number, string])[], rules = NICE_REASSESSMENT) => {
    const tests = dated(...list.map(([at, value]) => test(at, value)));
    return reassess(tests, timeInRange(tests, USUAL, ROSENDAAL_1993, { localDate }), rules, day(400), localDate);
  };

  it('count a value for nobody who could lie on the other side of the limit, and none twice', () => {
    fc.assert(
      fc.property(course, (list) => {
        const found = look(list);
        for (const { criterion, counted, isMet } of found.criteria) {
          expect(isMet).toBe(counted.length >= criterion.atLeast);
          expect(new Set(counted.map(({ id }) => id)).size).toBe(counted.length);
          // `>4.5` may be anything from there on, `<0.8` anything down to nothing: the worst of it must still be beyond.
          for (const { value, beyond } of counted)
            if (criterion.beyond === 'above')
              expect(beyond === '>' ? value + 0.001 : value).toBeGreaterThan(criterion.limit);
            else expect(beyond === '<' ? value - 0.001 : value).toBeLessThan(criterion.limit);
        }
        expect(found.isDue).toBe(found.timeInRange.isMet || found.criteria.some(({ isMet }) => isMet));
      }),
      options,
    );
  });

  it('once met stay met when a test is added or the window grows', () => {
    fc.assert(
      fc.property(course, fc.tuple(fc.integer({ min: 0, max: 399 }), shown), fc.nat(300), (list, added, more) => {
        const before = look(list).criteria;
        const others = list.filter(([at]) => at !== added[0]);
        const fewer = look(others).criteria;
        const again = look([...others, added].toSorted(([a], [b]) => a - b)).criteria;
        const wider = look(list, { ...NICE_REASSESSMENT, windowDays: NICE_REASSESSMENT.windowDays + more }).criteria;
        before.forEach((one, i) => {
          expect(again[i]?.counted.length).toBeGreaterThanOrEqual(fewer[i]?.counted.length ?? 0);
          if (one.isMet) expect(wider[i]?.isMet).toBe(true);
        });
      }),
      options,
    );
  });
});

describe(`the plan (SEED=${SEED})`, () => {
  const plan = (now: number, days: readonly number[], everyDays: number, since?: number) =>
    planOf(dated(...days.map((at) => test(at, '2.5'))), {
      now: day(now),
      localDate,
      longestDays: 84,
      everyDays,
      ...(since !== undefined && { since: day(since) }),
    });
  const days = fc
    .uniqueArray(fc.integer({ min: 0, max: 300 }), { maxLength: 40 })
    .map((l) => l.toSorted((a, b) => a - b));
  const every = fc.integer({ min: 1, max: 90 });

  it('is kept in full where every planned test was made on its day, and not at all where none was', () => {
    fc.assert(
      fc.property(fc.integer({ min: 1, max: 20 }), every, (turns, everyDays) => {
        const made = Array.from({ length: turns }, (_, i) => i * everyDays);
        const now = (turns - 1) * everyDays + Math.ceil(everyDays / 2);
        expect(plan(now, made, everyDays).kept).toMatchObject({ planned: turns, done: turns, fraction: { value: 1 } });
        expect(plan(now, [], everyDays, 0).kept).toMatchObject({ planned: turns, done: 0, fraction: { value: 0 } });
      }),
      options,
    );
  });

  it('never has more tests done than planned or than made, and a further test never undoes one', () => {
    fc.assert(
      fc.property(
        days,
        every,
        fc.integer({ min: 0, max: 300 }),
        fc.integer({ min: 0, max: 400 }),
        (list, n, one, now) => {
          const before = plan(now, list, n, 0).kept;
          expect(before.done).toBeLessThanOrEqual(Math.min(before.planned, list.filter((at) => at <= now).length));
          const more = [...new Set([...list, one])].toSorted((a, b) => a - b);
          const after = plan(now, more, n, 0).kept;
          expect(after.planned).toBe(before.planned);
          expect([0, 1]).toContain(after.done - before.done);
        },
      ),
      options,
    );
  });

  it('is overdue by a day more each day from the planned date on, and never before', () => {
    fc.assert(
      fc.property(days, every, fc.integer({ min: 300, max: 600 }), (list, n, now) => {
        const [today, tomorrow] = [plan(now, list, n, 0), plan(now + 1, list, n, 0)];
        expect(tomorrow.nextDate).toBe(today.nextDate);
        const isDue = (today.nextDate ?? '') <= localDate(day(now));
        expect(tomorrow.overdueDays - today.overdueDays).toBe(isDue ? 1 : 0);
        if (!isDue) expect(today.overdueDays).toBe(0);
      }),
      options,
    );
  });
});

describe(`the parts of a line against ranges that change (SEED=${SEED})`, () => {
  const value = fc.integer({ min: 5, max: 80 }).map((v) => v / 10);
  const ranges = fc
    .uniqueArray(fc.tuple(fc.integer({ min: -50, max: 150 }), value, fc.integer({ min: 0, max: 20 })), {
      selector: ([from]) => from,
      maxLength: 4,
    })
    .map((list) =>
      list.toSorted(([a], [b]) => a - b).map(([from, low, wide]) => ({ from, low, high: low + wide / 10 })),
    );

  it('add up to one and are what walking along the line finds', () => {
    fc.assert(
      fc.property(value, value, fc.integer({ min: 1, max: 100 }), ranges, (from, to, length, inForce) => {
        const found = sharesOf({ at: 0, value: from }, { at: length, value: to }, inForce);
        const { below, in: inside, above, none } = found;
        expect(below + inside + above + none).toBeCloseTo(1, 9);
        const walked = { below: 0, in: 0, above: 0, none: 0 };
        const steps = 2000;
        for (let i = 0; i < steps; i++) {
          const part = (i + 0.5) / steps;
          const range = inForce.findLast((r) => r.from <= part * length);
          const here = from + (to - from) * part;
          const where = !range ? 'none' : here < range.low ? 'below' : here > range.high ? 'above' : 'in';
          walked[where] += 1 / steps;
        }
        // Each border of a stretch is at most one step off; there are two of them for each range, and its beginning.
        const off = (3 * inForce.length + 1) / steps;
        for (const key of ['below', 'in', 'above', 'none'] as const)
          expect(Math.abs(found[key] - walked[key])).toBeLessThanOrEqual(off);
      }),
      { ...options, numRuns: runsOr(100) },
    );
  });
});

describe(`times within bounds that keep their order (SEED=${SEED})`, () => {
  it('have the greatest worth of all there are', () => {
    const box = fc.tuple(fc.integer({ min: 0, max: 8 }), fc.integer({ min: 0, max: 8 }));
    fc.assert(
      fc.property(
        fc.array(box, { minLength: 1, maxLength: 4 }),
        fc.array(fc.integer({ min: -3, max: 3 }), { minLength: 3, maxLength: 3 }),
        (boxes, worths) => {
          // Both lists never fall: sorted, each on its own, which keeps every low at or below its high.
          const low = boxes.map(([a, b]) => Math.min(a, b)).sort((a, b) => a - b);
          const high = boxes.map(([a, b]) => Math.max(a, b)).sort((a, b) => a - b);
          const worth = worths.slice(0, boxes.length - 1);
          const worthOf = (times: ArrayLike<number>): number =>
            worth.reduce((sum, w, i) => sum + w * ((times[i + 1] ?? 0) - (times[i] ?? 0)), 0);
          // A linear programme with whole bounds has a best answer in whole numbers.
          let best = Number.NEGATIVE_INFINITY;
          const walk = (times: readonly number[]): void => {
            const i = times.length;
            if (i === boxes.length) {
              best = Math.max(best, worthOf(times));
              return;
            }
            for (let t = Math.max(low[i] ?? 0, times.at(-1) ?? 0); t <= (high[i] ?? 0); t++) walk([...times, t]);
          };
          walk([]);
          const found = orderedTimes(
            { low: Float64Array.from(low), high: Float64Array.from(high) },
            Float64Array.from(worth),
          );
          found.forEach((t, i) => {
            expect(t).toBeGreaterThanOrEqual(Math.max(low[i] ?? 0, found[i - 1] ?? 0));
            expect(t).toBeLessThanOrEqual(high[i] ?? 0);
          });
          expect(worthOf(found)).toBe(best);
        },
      ),
      options,
    );
  });
});
