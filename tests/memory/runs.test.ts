/** What running numbers tell of a sequence, by hand. */
import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import type { TestRecord } from '../../src/core/reading.ts';
import { followRuns, runsMissing } from '../../src/memory/runs.ts';
import type { KnownTest, SequenceItem } from '../../src/memory/state.ts';
import { runsOr, seedOr } from '../support/seed.ts';
import { knownOn, test } from './meter-words.ts';

const numbered = (runNumber: number | undefined, more: Partial<KnownTest> = {}): KnownTest => {
  const record: TestRecord = { ...test(1), ...(runNumber !== undefined && { runNumber }) };
  return knownOn(runNumber ?? 0, { record, ...more });
};
const gap = { kind: 'gap' } as const;
const SEED = seedOr(20260301);

describe('the highest running number', () => {
  const follow = (before: number | undefined, ...runs: (number | undefined)[]) =>
    followRuns(
      before,
      runs.map((run) => numbered(run)),
    );

  it('is that of the newest test that has one', () => {
    expect(follow(7, 8, 9)).toEqual({ highestRun: 9, restarted: false });
    expect(follow(7, 8, undefined)).toEqual({ highestRun: 8, restarted: false });
    expect(follow(undefined, 3)).toEqual({ highestRun: 3, restarted: false });
  });

  it('stays where nothing new has one, and is absent where none ever had', () => {
    expect(follow(7)).toEqual({ highestRun: 7, restarted: false });
    expect(Object.keys(follow(undefined, undefined))).toEqual(['restarted']);
  });

  it('started again where a number is no higher than the one before, also if it goes on from there', () => {
    expect(follow(7, 7)).toEqual({ highestRun: 7, restarted: true });
    expect(follow(7, 1, 2)).toEqual({ highestRun: 2, restarted: true });
    expect(follow(undefined, 4, 1)).toEqual({ highestRun: 1, restarted: true });
    expect(follow(undefined, 1, undefined, 2).restarted).toBe(false);
  });
});

describe('numbers', () => {
  /** Whether any is missing where only the items at these indices have a new neighbour in front. */
  const missing = (sequence: readonly SequenceItem[], joints: readonly number[], runBefore?: number) =>
    runsMissing(sequence, new Set(joints), runBefore, 0);
  const apart = [numbered(1), numbered(3), numbered(4)];

  it('are missing between two that this download made neighbours', () => {
    expect([missing(apart, [1]), missing(apart, [0, 2]), missing(apart, [])]).toEqual([true, false, false]);
    expect(missing([numbered(1), numbered(2)], [0, 1])).toBe(false);
    // They started again.
    expect(missing([numbered(5), numbered(1)], [1])).toBe(false);
  });

  it('are missing before the first where it is known what came before it', () => {
    expect([missing(apart, [0]), missing(apart, [0], 0), missing([numbered(3)], [0], 1)]).toEqual([false, false, true]);
  });

  it('are not missing over a gap, a test without one or what another memory holds', () => {
    expect(missing([numbered(1), gap, numbered(3)], [2])).toBe(false);
    expect(missing([numbered(1), { ...gap, memory: 1 }, numbered(3)], [2])).toBe(true);
    expect(missing([numbered(1), numbered(undefined), numbered(2)], [1, 2])).toBe(false);
    expect(missing([numbered(1), numbered(undefined), numbered(3)], [1, 2])).toBe(true);
    expect(missing([numbered(1), numbered(9, { memory: 1 }), numbered(2)], [1, 2])).toBe(false);
    expect(missing([numbered(1), { kind: 'past', count: 1 }, numbered(3)], [2])).toBe(true);
    expect(missing([numbered(1, { memory: 0 }), numbered(3, { memory: 0 })], [1])).toBe(true);
  });

  it('are not missing where a reading in conflict has a damaged one', () => {
    const first = numbered(2, { conflictWith: numbered(9).id });
    const rival = numbered(9, { conflictWith: first.id });
    expect(missing([numbered(1), first, rival, numbered(3)], [1, 2, 3])).toBe(false);
    expect(missing([numbered(1), first, rival, numbered(4)], [1, 2, 3])).toBe(true);
    // A rival of another than the one before it counts.
    expect(missing([numbered(1), first, numbered(3), rival], [3])).toBe(true);
    expect(missing([numbered(1), numbered(4, { conflictWith: numbered(1).id }), numbered(3)], [1, 2])).toBe(true);
  });
});

it(`numbers that rise by one each miss none and start nothing again, others do (SEED=${SEED})`, () => {
  fc.assert(
    fc.property(fc.nat(3), fc.array(fc.nat(6), { minLength: 1, maxLength: 5 }), (before, runs) => {
      const tests = runs.map((run) => numbered(run));
      const steps = runs.map((run, at) => run - (runs[at - 1] ?? before));
      expect(followRuns(before, tests)).toEqual({
        highestRun: runs.at(-1),
        restarted: steps.some((step) => step <= 0),
      });
      expect(runsMissing(tests, new Set(runs.keys()), before, 0)).toBe(steps.some((step) => step > 1));
    }),
    { seed: SEED, numRuns: runsOr(300) },
  );
});
