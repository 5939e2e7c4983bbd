/** Time in range: what the figure promises. The numbers themselves are held to exact fractions in tests/outside. */
import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { type DatedPoint, dateOf, dayOf } from '../../../src/clinic/course/dated-point.ts';
import { type TimeInRange, timeInRange } from '../../../src/clinic/course/time-in-range.ts';
import type { CoursePoint, Target } from '../../../src/clinic/facts.ts';
import {
  CMS179,
  NICE_NG196,
  ROSENDAAL_1993,
  type TimeInRangeRules,
} from '../../../src/clinic/rules/time-in-range-rules.ts';
import { runsOr, seedOr } from '../../support/seed.ts';
import { between, dated, day, localDate, target, test, USUAL } from './make-course.ts';

const seed = seedOr(20260301);

const outcome = (tests: readonly DatedPoint[], targets = USUAL, rules: TimeInRangeRules = ROSENDAAL_1993) =>
  timeInRange(tests, targets, rules, { localDate });

function figure(tests: readonly DatedPoint[], targets = USUAL, rules: TimeInRangeRules = ROSENDAAL_1993): TimeInRange {
  const found = outcome(tests, targets, rules);
  if (found.kind !== 'known') throw new Error(found.sentence);
  return found;
}

describe('time in range', () => {
  it('splits a rise from 1.5 to 3.5 in ten days against 2.0 to 3.0 into a quarter, a half and a quarter', () => {
    expect(figure(dated(test(0, '1.5'), test(10, '3.5')))).toMatchObject({
      fraction: 0.5,
      days: { below: 2.5, in: 5, above: 2.5, judged: 10 },
      tests: 2,
      pairs: 1,
    });
  });

  it('counts a level line on a limit as in range', () => {
    expect(figure(dated(test(0, '2.0'), test(7, '2.0'), test(14, '2.0'))).fraction).toBe(1);
    expect(figure(dated(test(0, '3.0'), test(7, '3.0'))).fraction).toBe(1);
    expect(figure(dated(test(0, '3.1'), test(7, '3.1'))).days).toMatchObject({ above: 7, in: 0, below: 0 });
    expect(figure(dated(test(0, '1.9'), test(7, '1.9'))).days).toMatchObject({ below: 7, in: 0, above: 0 });
  });

  it('leaves pairs more than 56 local dates apart out of both sides of the fraction, and tells how many', () => {
    const tests = dated(test(0.9, '2.5'), test(56.99, '2.5'), test(113, '5.0'), test(120, '5.0'));
    expect(figure(tests)).toMatchObject({ pairs: 2, leftOut: { gaps: 1 }, days: { above: 7 } });
    expect(figure(tests).leftOut.gapDays).toBeCloseTo(56.01, 9);
    expect(figure(tests).days.in).toBeCloseTo(56.09, 9);
  });

  it('judges each moment by the target then in force', () => {
    const { days } = figure(dated(test(0, '2.0'), test(10, '3.0')), [target(-1, 2, 2.5), target(4, 2.5, 3)]);
    expect(days.in).toBeCloseTo(4 + 5, 9);
    expect(days.below).toBeCloseTo(1, 9);
  });

  it('leaves time before the first target out, and says how much', () => {
    const found = figure(dated(test(0, '2.5'), test(10, '2.5')), [target(4, 2, 3)]);
    expect(found.days.judged).toBeCloseTo(6, 9);
    expect(found.leftOut.noTargetDays).toBeCloseTo(4, 9);
    expect(found.fraction).toBe(1);
  });

  it('counts pairs that have a length and a target', () => {
    const twice = dated(test(0, '2.5'), test(0, '2.6', 'again'), test(7, '2.5'));
    expect(figure(twice)).toMatchObject({ tests: 3, pairs: 1 });
    const late = dated(test(0, '2.5'), test(7, '2.5'), test(14, '2.5'));
    expect(figure(late, [target(7, 2, 3)])).toMatchObject({ tests: 3, pairs: 1, days: { judged: 7 } });
  });

  it('leaves out no first days where its rules do not, whenever treatment began', () => {
    const tests = dated(test(0, '2.5'), test(7, '2.5'));
    expect(timeInRange(tests, USUAL, ROSENDAAL_1993, { localDate, treatmentSince: day(50) })).toMatchObject({
      tests: 2,
      leftOut: { firstDays: 0 },
    });
  });

  it('tells how many values were beyond the meter, which it takes as the number shown', () => {
    expect(figure(dated(test(0, '2.5'), test(7, '>8.0'), test(14, '2.5'))).beyond).toBe(1);
  });
});

describe('time in range that cannot be reckoned', () => {
  it.each([
    ['with one test', dated(test(0, '2.5')), USUAL, 'too-few-tests'],
    ['without a target', dated(test(0, '2.5'), test(7, '2.5')), [], 'no-target'],
    ['without a target or a span', dated(test(0, '2.5'), test(0, '2.6', 'again')), [], 'no-target'],
    ['before the first target', dated(test(0, '2.5'), test(7, '2.5')), [target(8, 2, 3)], 'no-target'],
    ['with gaps only', dated(test(0, '2.5'), test(57, '2.5')), USUAL, 'only-gaps'],
    ['from tests at one moment', dated(test(0, '2.5'), test(0, '2.6', 'again')), USUAL, 'no-spread-in-time'],
  ] as const)('%s says why', (_, tests, targets, reason) => {
    const found = outcome(tests, targets);
    expect(found).toMatchObject({ kind: 'not-calculable', reason, rules: ROSENDAAL_1993 });
    expect(found).not.toHaveProperty('fraction');
  });
});

describe('the rule set CMS179', () => {
  const kept = (...tests: CoursePoint[]) => figure(dated(...tests, test(20, '2.5'), test(30, '2.5')), [], CMS179);

  it('judges everybody by 2.0 to 3.0, whatever the targets', () => {
    const tests = dated(test(0, '3.2'), test(7, '3.2'), test(14, '3.2'));
    expect(figure(tests, [target(-1, 2.5, 3.5)], CMS179).fraction).toBe(0);
    expect(figure(tests, [target(-1, 2.5, 3.5)]).fraction).toBe(1);
  });

  it('keeps the test of a date that is nearest to 2.5, of equally near ones the latest', () => {
    const found = kept(test(10.1, '2.3'), test(10.2, '4.0'), test(10.3, '2.7'), test(10.4, '2.2'));
    expect(found).toMatchObject({ tests: 3, leftOut: { sameDate: 3 } });
    // 2.7 at 10.3, not 2.3 at 10.1: that is where time begins.
    expect(found.days.judged).toBeCloseTo(19.7, 9);
  });

  it('takes more than 10 as 10, and drops less than 0.8', () => {
    expect(kept(test(10, '12.0'))).toMatchObject({ tests: 3, capped: 1 });
    expect(kept(test(10, '12.0')).days.above).toBeCloseTo((10 * 7) / 7.5, 9);
    expect(kept(test(9, '2.5'), test(10, '0.7'))).toMatchObject({ tests: 3, leftOut: { tooLow: 1 } });
    expect(kept(test(9, '2.5'), test(10, '<0.8'))).toMatchObject({ tests: 3, leftOut: { tooLow: 1 } });
    expect(kept(test(10, '0.8'))).toMatchObject({ tests: 3, leftOut: { tooLow: 0 } });
    // It need not be under 0.8.
    expect(kept(test(10, '<1.0'))).toMatchObject({ tests: 3, leftOut: { tooLow: 0 } });
    expect(kept(test(10, '10.0'))).toMatchObject({ capped: 0 });
  });

  it('gives no figure from fewer than three tests, and states the conditions that nobody here can see', () => {
    expect(outcome(dated(test(0, '2.5'), test(7, '2.5')), [], CMS179)).toMatchObject({ reason: 'too-few-tests' });
    expect(CMS179.conditions.length).toBeGreaterThan(0);
  });

  it('gives no range where the date of a test, and so what is kept, is not certain', () => {
    const sure = dated(test(0, '2.5'), between(9.4, 9.5, 9.6, '2.0'), test(10.2, '3.5'), test(20, '2.5'));
    expect(figure(sure, [], CMS179).bounds).toMatchObject({ kind: 'known' });
    const unsure = dated(test(0, '2.5'), between(9.4, 9.5, 10.1, '2.0'), test(10.2, '3.5'), test(20, '2.5'));
    expect(figure(unsure, [], CMS179).bounds).toMatchObject({ kind: 'not-calculable', reason: 'tests-uncertain' });
    const boundsWith = (...two: CoursePoint[]) =>
      figure(dated(test(0, '2.5'), ...two, test(20, '2.5'), test(30, '2.5')), [], CMS179).bounds;
    expect(boundsWith(between(10.1, 10.2, 10.3, '2.0'), between(10.2, 10.4, 10.5, '3.0')).kind).toBe('known');
    expect(boundsWith(test(10.2, '2.0'), between(10.2, 10.4, 11.1, '3.0')).kind).toBe('not-calculable');
    expect(boundsWith(between(10.1, 10.2, 11.1, '2.0'), test(10.4, '3.0')).kind).toBe('not-calculable');
  });
});

describe('the rule set of NICE NG196', () => {
  const weekly = (weeks: number, early: string) =>
    dated(...Array.from({ length: weeks }, (_, week) => test(week * 7, week < 6 ? early : '2.5')));

  it('leaves out the first six weeks of treatment', () => {
    expect(figure(weekly(40, '6.0'), USUAL, NICE_NG196)).toMatchObject({ fraction: 1, leftOut: { firstDays: 6 } });
    expect(figure(weekly(40, '6.0')).fraction).toBeLessThan(1);
  });

  it('counts them from the beginning of treatment where that is told', () => {
    const found = timeInRange(weekly(40, '6.0'), USUAL, NICE_NG196, { localDate, treatmentSince: day(-42) });
    expect(found).toMatchObject({ kind: 'known', leftOut: { firstDays: 0 } });
  });

  it('gives no figure before half a year of tests that count', () => {
    // The tests that count begin on day 42; week 33 is day 231, 189 days later, and week 32 only 182.
    expect(outcome(weekly(33, '2.5'), USUAL, NICE_NG196)).toMatchObject({ reason: 'too-short' });
    expect(outcome(weekly(34, '2.5'), USUAL, NICE_NG196)).toMatchObject({ kind: 'known' });
  });

  it('gives no range where a test may or may not lie in the first six weeks', () => {
    const tests = weekly(40, '2.5').map((t) =>
      t.id === 't42' ? { ...t, time: { at: day(42), earliest: day(41.9), latest: day(42.1) } } : t,
    );
    expect(figure(tests, USUAL, NICE_NG196).bounds).toMatchObject({ reason: 'tests-uncertain' });
    expect(figure(tests, USUAL).bounds).toMatchObject({ kind: 'known' });
    expect(figure(weekly(40, '2.5'), USUAL, NICE_NG196).bounds).toMatchObject({ kind: 'known' });
  });

  it('lets a first test of unknown date take its place with it, where the count begins with it', () => {
    const later = Array.from({ length: 30 }, (_, week) => test(60 + week * 7, '2.5'));
    const open = dated(between(null, 0, 0.5, '2.5'), ...later);
    expect(figure(open, USUAL, NICE_NG196)).toMatchObject({ bounds: { kind: 'known' }, leftOut: { firstDays: 1 } });
    const across = dated(between(-0.5, 0, 0.5, '2.5'), ...later);
    const told = timeInRange(across, USUAL, NICE_NG196, { localDate, treatmentSince: day(-42) });
    expect(told).toMatchObject({ bounds: { reason: 'tests-uncertain' } });
  });
});

describe('time in range over a period', () => {
  const tests = dated(test(0, '5.0'), test(10, '2.5'), between(19.9, 20, 20.1, '2.5'), test(30, '5.0'));
  const over = (from: number, until: number) =>
    timeInRange(tests, USUAL, ROSENDAAL_1993, {
      localDate,
      period: { from: localDate(day(from)), until: localDate(day(until)) },
    });

  it('counts pairs of which both tests lie in it, both dates included', () => {
    expect(over(10, 29)).toMatchObject({ fraction: 1, tests: 2 });
    expect(over(0, 30)).toMatchObject({ tests: 4 });
  });

  it('gives no range where a test may lie in it or not', () => {
    expect(over(10, 29)).toMatchObject({ bounds: { kind: 'known' } });
    expect(over(10, 19)).toMatchObject({ kind: 'not-calculable' });
    expect(over(0, 20)).toMatchObject({ bounds: { kind: 'known' } });
    expect(over(20, 30)).toMatchObject({ bounds: { reason: 'tests-uncertain' } });
    expect(over(0, 19)).toMatchObject({ bounds: { reason: 'tests-uncertain' } });
  });
});

/** Tests some days apart, values in tenths, and targets that change at any moment. */
const anyTests = fc
  .array(fc.record({ after: fc.integer({ min: 1, max: 5_200_000 }), tenths: fc.integer({ min: 8, max: 80 }) }), {
    minLength: 2,
    maxLength: 25,
  })
  .map((steps) => {
    let at = 0;
    return steps.map(({ after, tenths }, i) => {
      at += after / 86_400;
      return test(at, (tenths / 10).toFixed(1), `t${i}`);
    });
  });
const anyTargets = fc.array(
  fc
    .record({
      from: fc.integer({ min: -100, max: 600 }),
      low: fc.integer({ min: 15, max: 30 }),
      width: fc.integer({ min: 5, max: 15 }),
    })
    .map(({ from, low, width }) => target(from, low / 10, (low + width) / 10)),
  { minLength: 1, maxLength: 5 },
);
const check = <T extends unknown[]>(property: fc.IProperty<T>): void =>
  fc.assert(property, { seed, numRuns: runsOr(300) });

describe(`whatever the tests and targets (seed ${seed})`, () => {
  it('time below, in and above adds up to the time judged, and all time to the span of the tests', () => {
    check(
      fc.property(anyTests, anyTargets, (points, targets) => {
        const tests = dated(...points);
        const found = outcome(tests, targets);
        if (found.kind !== 'known') return;
        const { below, in: inside, above, judged } = found.days;
        expect(Math.min(below, inside, above)).toBeGreaterThanOrEqual(0);
        expect(below + inside + above).toBeCloseTo(judged, 9);
        const [first, last] = [tests[0]?.time.at ?? 0, tests.at(-1)?.time.at ?? 0];
        const { gapDays, noTargetDays } = found.leftOut;
        expect(judged + gapDays + noTargetDays).toBeCloseTo((last - first) / 86_400_000, 6);
      }),
    );
  });

  it('repeating the target in force at any moment changes nothing', () => {
    check(
      fc.property(anyTests, anyTargets, fc.integer({ min: 0, max: 500 }), (points, targets, at) => {
        const inForce = targets.toSorted((a, b) => a.from - b.from).findLast(({ from }) => from <= day(at));
        fc.pre(inForce !== undefined && !targets.some(({ from }) => from === day(at)));
        const repeated: Target[] = [...targets, ...(inForce ? [{ ...inForce, from: day(at) }] : [])];
        expect(outcome(dated(...points), repeated)).toEqual(outcome(dated(...points), targets));
      }),
    );
  });

  it('a further test on the line between two others changes nothing', () => {
    check(
      fc.property(
        anyTests,
        anyTargets,
        fc.nat(),
        fc.double({ min: 0.01, max: 0.99, noNaN: true }),
        (points, targets, pick, part) => {
          const i = pick % (points.length - 1);
          const [a, b] = [points[i], points[i + 1]];
          fc.pre(a !== undefined && b !== undefined && dayOf(localDate(b.time.at)) - dayOf(localDate(a.time.at)) <= 56);
          if (!a || !b) return;
          const at = day((a.time.at + part * (b.time.at - a.time.at) - day(0)) / 86_400_000);
          fc.pre(at > a.time.at && at < b.time.at);
          const value = a.value + ((b.value - a.value) * (at - a.time.at)) / (b.time.at - a.time.at);
          const without = outcome(dated(...points), targets);
          const more = outcome(dated(...points, { id: 'on', time: { at }, value }), targets);
          expect(more.kind).toBe(without.kind);
          if (more.kind === 'known' && without.kind === 'known') expect(more.fraction).toBeCloseTo(without.fraction, 9);
        },
      ),
    );
  });

  it('does not depend on the unit of the values or on when it all happened', () => {
    check(
      fc.property(anyTests, anyTargets, fc.integer({ min: 1, max: 400 }), (points, targets, weeks) => {
        const without = outcome(dated(...points), targets);
        // A power of two changes no digit of a double.
        const scaled = outcome(
          dated(...points.map((p) => ({ ...p, value: p.value * 16 }))),
          targets.map(({ from, low, high }) => ({ from, low: low * 16, high: high * 16 })),
        );
        const later = outcome(
          dated(...points.map((p) => ({ ...p, time: { at: day((p.time.at - day(0)) / 86_400_000 + 7 * weeks) } }))),
          targets.map((t) => ({ ...t, from: day((t.from - day(0)) / 86_400_000 + 7 * weeks) })),
        );
        expect(scaled.kind).toBe(without.kind);
        expect(later.kind).toBe(without.kind);
        if (without.kind !== 'known' || scaled.kind !== 'known' || later.kind !== 'known') return;
        expect(scaled.fraction).toBeCloseTo(without.fraction, 12);
        expect(later.fraction).toBeCloseTo(without.fraction, 9);
      }),
    );
  });

  it('a finer and finer count of moments comes to the same fraction', () => {
    const step = 1 / 500;
    check(
      fc.property(anyTests, (points) => {
        const found = outcome(dated(...points));
        if (found.kind !== 'known') return;
        let [inside, all] = [0, 0];
        points.forEach((b, i) => {
          const a = points[i - 1];
          if (!a || dayOf(localDate(b.time.at)) - dayOf(localDate(a.time.at)) > 56) return;
          for (let u = step / 2; u < 1; u += step) {
            const value = a.value + (b.value - a.value) * u;
            const length = (b.time.at - a.time.at) * step;
            all += length;
            if (value >= 2 - 1e-12 && value <= 3 + 1e-12) inside += length;
          }
        });
        expect(Math.abs(found.fraction - inside / all)).toBeLessThan(2 * step);
      }),
    );
  });
});

describe('dates and days', () => {
  it('turn into each other', () => {
    for (const date of ['2024-02-29', '1999-12-31', '2026-03-29']) expect(dateOf(dayOf(date))).toBe(date);
  });
});
