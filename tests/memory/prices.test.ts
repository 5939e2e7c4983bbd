/** What it costs to call a told test new at a place, by hand. */
import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import type { TestRecord } from '../../src/core/reading.ts';
import {
  ALL_DELETED,
  BACKDATED,
  NEW_IN_MIDDLE,
  PERHAPS_OVERWRITTEN,
  RUN_RESTART,
  RUN_REUSED,
} from '../../src/memory/costs.ts';
import type { ClockEvidence } from '../../src/memory/last-clock.ts';
import { countPlaces, newCosts, oldestGoneCost } from '../../src/memory/prices.ts';
import { relate } from '../../src/memory/relations.ts';
import type { Question } from '../../src/memory/steps.ts';
import { runsOr, seedOr } from '../support/seed.ts';
import { test } from './meter-words.ts';

const SILENT: ClockEvidence = { mayRepeat: () => true, stampedWhen: () => undefined, isBackdated: () => false };
const gap = 'gap' as const;
const SEED = seedOr(20260301);

/** The prices of told tests against known ones; days and values differ, so that none is like another by itself. */
function prices(
  known: readonly (TestRecord | typeof gap)[],
  told: readonly TestRecord[],
  more: Partial<Question> = {},
) {
  const question = {
    known: known.map((item) => (item === gap ? { kind: 'gap' } : { kind: 'place', tests: [{ record: item }] })),
    told: told.map((one) => ({ kind: 'test', test: one })),
    sightings: told.map((record) => ({ record })),
    weak: false,
    clock: SILENT,
    ...more,
  } as unknown as Question;
  return { ...newCosts(question, relate(question)), question };
}
const numbered = (day: number, runNumber: number) => test(day, { runNumber });

describe('a new test between known ones', () => {
  const known = [numbered(1, 10), gap, numbered(3, 30)];
  const costs = (runNumber: number) => {
    const { cost } = prices(known, [numbered(2, runNumber)], { highestRun: 30 });
    return [0, 1, 2].map((k) => cost(k, 0));
  };

  it('costs nothing in a gap where its number fits, and a restart where it does not', () => {
    expect(costs(20)).toEqual([NEW_IN_MIDDLE, 0, NEW_IN_MIDDLE]);
    expect(costs(11)[1]).toBe(0);
    expect(costs(29)[1]).toBe(0);
    expect([10, 30, 5, 40].map((run) => costs(run)[1])).toEqual(Array(4).fill(RUN_RESTART));
    expect(prices(known, [test(2)]).cost(1, 0)).toBe(0);
    const { cost } = prices([numbered(1, 10), numbered(2, 20), gap, numbered(4, 40)], [numbered(3, 15)]);
    expect(cost(2, 0)).toBe(RUN_RESTART);
    expect(prices([numbered(1, 10), numbered(2, 20), gap], [numbered(3, 15)]).ties(3, 0)).toBe(1);
  });

  it('has every neighbour against it whose number says otherwise, or where one has none, whose stamp does', () => {
    const ties = (told: TestRecord, beside: readonly (TestRecord | typeof gap)[] = known) =>
      prices(beside, [told]).ties(1, 0);
    expect([20, 10, 30, 9, 31].map((run) => ties(numbered(2, run)))).toEqual([0, 0, 0, 1, 1]);
    // The number counts, whatever the stamp.
    expect(ties(numbered(9, 20))).toBe(0);
    expect([test(2), test(0.5), test(4)].map((told) => ties(told))).toEqual([0, 1, 1]);
    expect(ties(numbered(4, 20), [test(1), gap, test(3)])).toBe(1);
    const { meterTime: _, ...unset } = test(4);
    expect(ties(unset)).toBe(0);
    // The last one known is a neighbour too; an equal stamp is no later one; in the middle it counts for nothing.
    expect([9, 31].map((run) => prices(known, [numbered(2, run)]).ties(3, 0))).toEqual([1, 0]);
    expect(ties(test(1), [test(1), gap, test(1)])).toBe(0);
    expect([9, 11].map((run) => prices(known, [numbered(2, run)]).ties(0, 0))).toEqual([0, 0]);
  });

  it('has the clock against it where a gap was left before and the stamp is of since, and behind all the other way', () => {
    const when = (side: 'before' | 'since' | undefined) => {
      const { ties } = prices([test(1), gap], [test(2)], { clock: { ...SILENT, stampedWhen: () => side } });
      return [ties(1, 0), ties(2, 0)];
    };
    expect([when('before'), when('since'), when(undefined)]).toEqual([
      [0, 1],
      [1, 0],
      [0, 0],
    ]);
  });
});

describe('a new test behind everything known', () => {
  const known = [numbered(1, 10), numbered(2, 11)];
  const last = (told: readonly TestRecord[], more: Partial<Question> = { highestRun: 11 }) =>
    prices(known, told, more).cost(2, told.length - 1);

  it('costs nothing with a higher number than any before, or without numbers', () => {
    expect([last([numbered(3, 12)]), last([test(3)]), last([numbered(3, 5)], {})]).toEqual([0, 0, 0]);
  });

  it('costs a restart with a used number, unless it runs on from a new test before it', () => {
    expect(last([numbered(3, 11)])).toBe(RUN_RESTART);
    expect(last([numbered(3, 5)])).toBe(RUN_RESTART);
    expect(last([test(3), numbered(4, 5)])).toBe(RUN_RESTART);
    expect(last([numbered(3, 5), numbered(4, 5)])).toBe(RUN_RESTART);
    expect(last([numbered(3, 6), numbered(4, 5)])).toBe(RUN_RESTART);
    expect(last([numbered(3, 4), numbered(4, 5)])).toBe(0);
  });

  it('costs far more where it runs on from a known test and yet was used before', () => {
    expect(last([numbered(1, 10), numbered(4, 11)])).toBe(RUN_RESTART + RUN_REUSED);
  });

  it('costs once for a stretch that is stamped too early, where neither number nor power loss explains it', () => {
    const clock = { ...SILENT, isBackdated: () => true, mayRepeat: () => false };
    const { cost } = prices(known, [test(3), test(4)], { clock });
    expect([cost(2, 0), cost(2, 1)]).toEqual([BACKDATED, 0]);
    expect(last([test(3)], { clock: { ...clock, mayRepeat: () => true } })).toBe(0);
    expect(last([numbered(3, 12)], { clock, highestRun: 11 })).toBe(0);
    expect(last([numbered(3, 12)], { clock })).toBe(BACKDATED);
    expect(last([numbered(3, 11)], { clock, highestRun: 11 })).toBe(RUN_RESTART + BACKDATED);
  });
});

it('the oldest may be gone by overwriting where so many fit, and were deleted where they do not', () => {
  const { question } = prices([test(1), gap, test(2)], []);
  expect(countPlaces(question)).toEqual([0, 1, 1, 2]);
  const gone = (overwritable?: number) =>
    [0, 1, 2].map((n) =>
      oldestGoneCost({ ...question, ...(overwritable !== undefined && { overwritable }) } as Question, n),
    );
  expect(gone(1)).toEqual([0, 0, ALL_DELETED]);
  expect(gone()).toEqual([0, PERHAPS_OVERWRITTEN, PERHAPS_OVERWRITTEN]);
});

it(`a new test costs what its likeness costs and what its place costs, the latter the same for all that are alike (SEED=${SEED})`, () => {
  const one = fc
    .record({ day: fc.integer({ min: 1, max: 4 }), run: fc.option(fc.integer({ min: 1, max: 6 }), { nil: undefined }) })
    .map(({ day, run }) => (run === undefined ? test(day) : numbered(day, run)));
  const known = fc.array(fc.oneof(one, fc.constant(gap)), { maxLength: 4 });
  fc.assert(
    fc.property(known, fc.array(one, { minLength: 1, maxLength: 3 }), (items, told) => {
      const { cost, ties, question } = prices(items, told, { highestRun: 3 });
      const relations = relate(question);
      for (const t of told.keys())
        for (let k = 0; k <= items.length; k++) {
          const place = cost(k, t) - relations.repeatCost(t);
          if (k === items.length) expect([0, RUN_RESTART, RUN_RESTART + RUN_REUSED]).toContain(place);
          else expect(items[k] === gap ? [0, RUN_RESTART] : [NEW_IN_MIDDLE]).toContain(place);
          expect(ties(k, t)).toBeLessThanOrEqual(2);
        }
    }),
    { seed: SEED, numRuns: runsOr(200) },
  );
});
