/** What a known place and a told test have in common, and what that costs, by hand. */
import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import type { TestRecord } from '../../src/core/reading.ts';
import { CONFLICT, REPEAT, REPEAT_AFTER_LOSS, REPEATED_STAMP } from '../../src/memory/costs.ts';
import type { ClockEvidence } from '../../src/memory/last-clock.ts';
import { APART, claimantOf, isAlike, relate, SAME } from '../../src/memory/relations.ts';
import { type Sighting, sameTest } from '../../src/memory/same.ts';
import type { Place } from '../../src/memory/standing.ts';
import type { Question } from '../../src/memory/steps.ts';
import { runsOr, seedOr } from '../support/seed.ts';
import { errorTest, knownOn, test } from './meter-words.ts';

const SEED = seedOr(20260301);
const SILENT: ClockEvidence = { mayRepeat: () => false, stampedWhen: () => undefined, isBackdated: () => false };
const gap = 'gap' as const;

const sightingOf = (one: TestRecord | Sighting): Sighting => ('record' in one ? one : { record: one });
const placeOf = (tests: readonly (TestRecord | Sighting)[]): Place => ({
  kind: 'place',
  tests: tests.map((one, at) => knownOn(at, sightingOf(one))),
  from: 0,
  to: tests.length,
});

/** The relations of places, each of one test or more, and told tests. */
function relations(
  known: readonly (TestRecord | Sighting | readonly TestRecord[] | typeof gap)[],
  told: readonly (TestRecord | Sighting | undefined)[],
  more: Partial<Question> = {},
) {
  return relate({
    known: known.map((item) =>
      item === gap ? { kind: 'gap' } : placeOf(Array.isArray(item) ? item : [item as TestRecord | Sighting]),
    ),
    told: [],
    sightings: told.map((one) => one && sightingOf(one)),
    weak: false,
    clock: SILENT,
    ...more,
  } as unknown as Question);
}
const relation = (a: TestRecord | Sighting, b: TestRecord | Sighting, weak = false) =>
  relations([a], [b], { weak }).at(0, 0);

const at8 = (more: Parameters<typeof test>[1] = {}) => test(1, { inr: '2.5', ...more });
const other = (more: Parameters<typeof test>[1] = {}) => test(1, { inr: '8.75', ...more });
const later = (more: Parameters<typeof test>[1] = {}) => test(13.37, { inr: '2.5', ...more });
const unset = (one: TestRecord): TestRecord => {
  const { meterTime: _, ...rest } = one;
  return { ...rest, meterTimeText: '' };
};

describe('a known test and a told one', () => {
  it('are the same, or have nothing in common', () => {
    expect(relation(at8(), at8())).toBe(SAME);
    expect(relation(at8(), test(13.37, { inr: '8.75' }))).toBe(APART);
    expect([SAME, APART]).toEqual([0, -1]);
  });

  it('claim one place with the same time and number or slot', () => {
    expect(relation(at8({ runNumber: 7 }), other({ runNumber: 7 }))).toBe(CONFLICT.placeAndTime);
    expect(relation({ record: at8(), ringSlot: 3 }, { record: other(), ringSlot: 3 })).toBe(CONFLICT.placeAndTime);
    expect(relation({ record: at8(), ringSlot: 3 }, { record: later(), ringSlot: 3 })).toBe(CONFLICT.content);
    // Another count of power losses is another test, but for a certain place.
    expect(relation(at8({ runNumber: 7, lossCount: 1 }), other({ runNumber: 7, lossCount: 2 }))).toBe(
      CONFLICT.placeAndTime,
    );
    // Clocks that were not set name no moment, but the same number is told without one.
    expect(relation(unset(at8({ runNumber: 7 })), unset(other({ runNumber: 7 })))).toBe(CONFLICT.placeAndTime);
    expect(relation(unset(at8({ runNumber: 7, lossCount: 1 })), unset(other({ runNumber: 7, lossCount: 2 })))).toBe(
      APART,
    );
  });

  it('are apart in two slots of a ring', () => {
    expect(relation({ record: at8(), ringSlot: 3 }, { record: at8(), ringSlot: 4 })).toBe(APART);
  });

  it('share a number, with the same values or others', () => {
    expect(relation(at8({ runNumber: 7 }), later({ runNumber: 7 }))).toBe(CONFLICT.runAndContent);
    expect(relation(at8({ runNumber: 7 }), test(13.37, { inr: '8.75', runNumber: 7 }))).toBe(CONFLICT.runOnly);
    expect(relation(at8({ runNumber: 7, lossCount: 1 }), later({ runNumber: 7, lossCount: 2 }))).toBe(APART);
    expect(relation(at8({ runNumber: 7, lossCount: 1 }), later({ runNumber: 7 }))).toBe(CONFLICT.runAndContent);
    expect(relation(at8({ runNumber: 7 }), later({ runNumber: 7, lossCount: 2 }))).toBe(CONFLICT.runAndContent);
    expect(relation(at8({ runNumber: 7, lossCount: 1 }), later({ runNumber: 7, lossCount: 1 }))).toBe(
      CONFLICT.runAndContent,
    );
  });

  it('share a time, or the values alone, unless their numbers differ', () => {
    expect(relation(at8(), other())).toBe(CONFLICT.time);
    expect(relation(at8({ runNumber: 7 }), other({ runNumber: 8 }))).toBe(CONFLICT.time);
    expect(relation(at8(), later())).toBe(CONFLICT.content);
    expect(relation(at8({ runNumber: 7 }), later())).toBe(CONFLICT.content);
    expect(relation(at8({ runNumber: 7 }), later({ runNumber: 8 }))).toBe(APART);
    expect(relation(unset(at8()), unset(other()))).toBe(APART);
  });
});

describe('by a protocol with a weak check', () => {
  const damaged = (a: TestRecord, b: TestRecord) => relation(a, b, true);

  it('one frame may have been damaged: the values, the stamp, the lot or the number, a character or two of it', () => {
    expect(damaged(at8(), at8({ inr: '2.6' }))).toBe(CONFLICT.damaged);
    expect(damaged(at8(), other())).toBe(CONFLICT.time);
    expect(damaged(at8(), test(2, { inr: '2.5' }))).toBe(CONFLICT.damaged);
    expect(damaged(at8(), test(2, { inr: '2.6' }))).toBe(APART);
    expect(damaged(at8(), { ...later(), meterTimeText: '2027-12-24T19:36:05' })).toBe(CONFLICT.content);
    expect(damaged(at8({ lot: 'A' }), at8({ lot: 'B' }))).toBe(CONFLICT.damaged);
    expect(damaged(at8({ runNumber: 7 }), at8({ runNumber: 8 }))).toBe(CONFLICT.damaged);
  });

  it('but not two of them', () => {
    expect(damaged(at8({ lot: 'A' }), at8({ lot: 'B', inr: '2.6' }))).toBe(CONFLICT.time);
    expect(damaged(at8({ lot: 'A' }), test(2, { inr: '2.5', lot: 'B' }))).toBe(CONFLICT.content);
    expect(damaged(at8({ lot: 'A' }), at8({ lot: 'A', inr: '2.6' }))).toBe(CONFLICT.damaged);
    expect(damaged(at8({ runNumber: 7, lot: 'A' }), at8({ runNumber: 8, lot: 'B' }))).toBe(CONFLICT.time);
    expect(damaged(at8({ runNumber: 7, lot: 'A' }), at8({ runNumber: 8, lot: 'A' }))).toBe(CONFLICT.damaged);
    expect(damaged(at8({ runNumber: 7 }), at8({ runNumber: 8, inr: '2.6' }))).toBe(CONFLICT.time);
    expect(damaged(at8({ runNumber: 7 }), test(2, { inr: '2.5', runNumber: 8 }))).toBe(APART);
  });

  it('or the number stays: what is else damaged costs no more', () => {
    expect(damaged(at8({ runNumber: 7 }), test(2, { inr: '2.5', runNumber: 7 }))).toBe(CONFLICT.damaged);
    expect(damaged(at8({ runNumber: 7 }), test(13.37, { inr: '8.75', runNumber: 7 }))).toBe(CONFLICT.runOnly);
  });

  it('a test without a stamp has less to show for it', () => {
    expect(damaged(unset(at8()), unset(at8({ inr: '2.6' })))).toBe(CONFLICT.damagedWithoutTime);
    expect(damaged(unset(at8({ lot: 'A' })), unset(at8({ lot: 'B' })))).toBe(CONFLICT.damagedWithoutTime);
  });

  it('and so what was read by it once, whatever the protocol now', () => {
    const once = at8({ flags: ['single-read'] });
    expect([relation(once, at8({ inr: '2.6' })), relation(at8({ inr: '2.6' }), once)]).toEqual([
      CONFLICT.damaged,
      CONFLICT.time,
    ]);
    expect([SAME, CONFLICT.damaged, CONFLICT.damagedWithoutTime].map(isAlike)).toEqual([true, true, true]);
    expect([APART, CONFLICT.time, CONFLICT.content, CONFLICT.runOnly].map(isAlike)).toEqual(Array(4).fill(false));
  });
});

describe('a place that two readings claim', () => {
  it('is the told test where either is, and else in conflict with the nearer one', () => {
    const claimed = [other({ runNumber: 7 }), later()];
    expect(relations([claimed], [later(), other({ runNumber: 7 })]).at(0, 0)).toBe(SAME);
    expect(relations([claimed], [other({ runNumber: 7 })]).at(0, 0)).toBe(SAME);
    expect(relations([[at8(), test(13.37, { inr: '9.9' })]], [other()]).at(0, 0)).toBe(CONFLICT.time);
    expect(relations([[test(13.37, { inr: '9.9' }), at8()]], [other()]).at(0, 0)).toBe(CONFLICT.time);
    // 25 for the time, 40 for the values.
    expect(relations([[at8(), later({ inr: '8.75' })]], [other()]).at(0, 0)).toBe(CONFLICT.time);
    expect(relations([[later({ inr: '8.75' }), at8()]], [other()]).at(0, 0)).toBe(CONFLICT.time);
  });

  it('names the one that the told test can be', () => {
    const place = placeOf([other(), later()]);
    expect([later(), other(), at8()].map((record) => claimantOf(place, { record }))).toEqual([1, 0, -1]);
  });
});

describe('all places and all told tests', () => {
  it('are compared each with each; a gap and a hole have nothing in common with any', () => {
    const { at } = relations([at8(), gap, later()], [later(), undefined, at8()]);
    const table = [0, 1, 2].map((k) => [0, 1, 2].map((t) => at(k, t)));
    expect(table).toEqual([
      [CONFLICT.content, APART, SAME],
      [APART, APART, APART],
      [SAME, APART, CONFLICT.content],
    ]);
    expect([at(3, 0), at(9, 9)]).toEqual([APART, APART]);
  });

  it('are met by a day alone where any stamp is no finer', () => {
    const coarse = (record: TestRecord, resolutionMs = 86_400_000): TestRecord => ({
      ...record,
      ...(record.meterTime && { meterTime: { ...record.meterTime, resolutionMs } }),
    });
    const day = coarse(at8());
    const fine = test(1.1, { inr: '8.75' });
    expect([relation(day, fine), relation(fine, day), relation(day, coarse(fine))]).toEqual(
      Array(3).fill(CONFLICT.time),
    );
    expect(relation(at8(), fine)).toBe(APART);
    expect(relation(coarse(at8(), 3_600_000), test(1 + 1 / 48, { inr: '8.75' }))).toBe(CONFLICT.time);
    // Also one of many.
    const far = test(40, { inr: '7.7' });
    expect(relations([far, gap, day], [fine, far]).at(2, 0)).toBe(CONFLICT.time);
    expect(relations([[far, day]], [fine, far]).at(0, 0)).toBe(CONFLICT.time);
    expect(relations([far, fine], [undefined, far, day]).at(1, 2)).toBe(CONFLICT.time);
  });

  it('are met by text where a stamp cannot be read, by an error code, and by a minute', () => {
    const odd = (inr: string, text: string): TestRecord => ({ ...unset(test(1, { inr })), meterTimeText: text });
    expect(relation(odd('2.5', '2026-02-30'), odd('8.75', '2026-02-30'))).toBe(CONFLICT.time);
    expect(relation(odd('2.5', 'bad'), odd('8.75', 'bad'))).toBe(CONFLICT.time);
    expect(relation(errorTest('2026-03-02T08:00'), errorTest('2026-03-15T08:00'))).toBe(CONFLICT.content);
    const minute = at8({ resolutionMs: 60_000 });
    expect(relation(minute, test(1 + 30 / 86_400, { inr: '8.75' }))).toBe(CONFLICT.time);
  });
});

describe('a told test that is like a known one', () => {
  const costs = (
    known: readonly (TestRecord | typeof gap)[],
    told: TestRecord,
    clock: Partial<ClockEvidence> = {},
  ): [number, number] => {
    const found = relations(known, [undefined, told], { clock: { ...SILENT, ...clock } });
    return [found.otherCost(1), found.repeatCost(1)];
  };

  it('and yet another costs much, unless a power loss explains it', () => {
    expect(costs([gap, at8()], at8())).toEqual([REPEAT, REPEAT]);
    expect(costs([at8()], at8(), { mayRepeat: () => true })).toEqual([REPEAT_AFTER_LOSS, REPEAT_AFTER_LOSS]);
    expect(costs([later()], at8())).toEqual([0, 0]);
    expect(relations([at8()], [undefined]).repeatCost(0)).toBe(0);
    expect([relations([], []).otherCost(0), relations([], []).repeatCost(0)]).toEqual([0, 0]);
  });

  it('by its stamp alone costs a little, unless the clock may have gone back or it is stamped since', () => {
    expect(costs([other()], at8())).toEqual([0, REPEATED_STAMP]);
    expect(costs([later(), other({ runNumber: 7 })], at8({ runNumber: 7 }))).toEqual([0, REPEATED_STAMP]);
    expect(costs([at8({ flags: ['single-read'] })], at8({ inr: '2.6' }))).toEqual([0, REPEATED_STAMP]);
    expect(costs([other()], at8(), { mayRepeat: () => true })).toEqual([0, 0]);
    expect(costs([other()], at8(), { stampedWhen: () => 'since' })).toEqual([0, 0]);
    expect(costs([other()], at8(), { stampedWhen: () => 'before' })).toEqual([0, REPEATED_STAMP]);
    expect(costs([at8()], at8(), { stampedWhen: () => 'since' })).toEqual([REPEAT, REPEAT]);
  });
});

it(`where two are one test, the table says so, whatever else is known and told (SEED=${SEED})`, () => {
  const one = fc
    .record({
      day: fc.constantFrom(1, 1.0001, 2),
      resolutionMs: fc.constantFrom(1000, 60_000, 86_400_000),
      inr: fc.constantFrom('2.5', '2.6'),
      more: fc.record(
        { runNumber: fc.nat(2), lot: fc.constantFrom('A', 'B'), open: fc.constant(true) },
        { requiredKeys: [] },
      ),
    })
    .map(({ day, more, ...rest }) => test(day, { ...rest, ...(more as Partial<TestRecord>) }));
  const some = fc.array(one, { maxLength: 4 });
  fc.assert(
    fc.property(some, some, (known, told) => {
      const { at } = relations(known, told);
      const table = known.map((a) => told.map((b) => sameTest({ record: a }, { record: b })));
      expect(known.map((_, k) => told.map((__, t) => at(k, t) === SAME))).toEqual(table);
    }),
    { seed: SEED, numRuns: runsOr(300) },
  );
});
