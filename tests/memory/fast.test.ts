/** The ordinary download explained in one pass: when it can be, when it is left to the full search, and that both agree. */
import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import type { TestRecord } from '../../src/core/reading.ts';
import { align } from '../../src/memory/align.ts';
import { explainOrdinary } from '../../src/memory/fast.ts';
import { askOf } from '../../src/memory/question.ts';
import { EMPTY_MEMORY, type MemoryState, type SequenceItem } from '../../src/memory/state.ts';
import type { Question } from '../../src/memory/steps.ts';
import { runsOr, seedOr } from '../support/seed.ts';
import { download, errorTest, fold, hole, knownOn, test } from './meter-words.ts';

const SEED = seedOr(20260301);
const MINUTE_OF_DAY = 1 / 1440;

/** What a memory that is known to hold `known` was told: the question of that download. */
const asked = (
  known: readonly (TestRecord | SequenceItem)[],
  told: Parameters<typeof download>[1],
  more: Parameters<typeof download>[2] & { highestRun?: number } = {},
): Question => {
  const { highestRun, ...rest } = more;
  const sequence = known.map((item, day) =>
    'record' in item || !('flags' in item) ? item : knownOn(day, { record: item }),
  );
  return askOf({ sequence }, { memory: 0, ...(highestRun !== undefined && { highestRun }) }, download(99, told, rest));
};

/** The steps in short: m match, n new, - missing; undefined where it is left to the full search. */
const ordinary = (...question: Parameters<typeof asked>) => {
  const found = explainOrdinary(asked(...question));
  return found?.steps.map(({ kind }) => (kind === 'missing' ? '-' : kind[0])).join('');
};
const days = (from: number, to: number) => Array.from({ length: to - from + 1 }, (_, i) => test(from + i));

describe('the ordinary download', () => {
  it('tells what is known, then what is new', () => {
    expect(explainOrdinary(asked(days(1, 2), days(1, 3)))).toEqual({
      steps: [
        { kind: 'match', known: 0, claimant: 0, told: 0 },
        { kind: 'match', known: 1, claimant: 0, told: 1 },
        { kind: 'new', told: 2, repeat: false },
      ],
      doubtful: false,
      cost: 0,
    });
    expect(ordinary(days(1, 3), days(1, 3))).toBe('mmm');
    expect(ordinary([], days(1, 2))).toBe('nn');
    expect(ordinary([], [])).toBe('');
  });

  it('lacks the oldest tests that can have been overwritten', () => {
    const full = { capacity: 3, held: 3 };
    expect(explainOrdinary(asked(days(1, 3), days(2, 4), full))?.steps).toEqual([
      { kind: 'missing', known: 0 },
      { kind: 'match', known: 1, claimant: 0, told: 0 },
      { kind: 'match', known: 2, claimant: 0, told: 1 },
      { kind: 'new', told: 2, repeat: false },
    ]);
    expect(ordinary(days(1, 3), days(3, 5), full)).toBe('--mnn');
    // Of three known ones in a memory of five, four that are held can have pressed out two.
    expect(ordinary(days(1, 3), days(3, 6), { capacity: 5 })).toBe('--mnnn');
    expect(ordinary(days(1, 3), days(3, 5), { capacity: 5 })).toBeUndefined();
    const { capacity: _, ...unknown } = asked(days(1, 3), days(2, 4)) as Question & { capacity?: number };
    const { overwritable: __, ...open } = unknown;
    expect(explainOrdinary(open)).toBeUndefined();
    expect(explainOrdinary({ ...open, overwritable: 1 })?.steps).toHaveLength(4);
  });

  it('has numbers that go on', () => {
    const numbered = (day: number, runNumber: number) => test(day, { runNumber });
    const next = (run: number, highestRun?: number) =>
      ordinary([numbered(1, 7)], [numbered(1, 7), numbered(2, run)], highestRun === undefined ? {} : { highestRun });
    expect([next(8, 7), next(9, 7), next(7, 7), next(1, 7), next(1)]).toEqual(['mn', 'mn', undefined, undefined, 'mn']);
    expect(ordinary([numbered(1, 7)], [numbered(1, 7), test(2)], { highestRun: 7 })).toBe('mn');
  });
});

describe('the full search is asked', () => {
  it('where nothing, or not the newest, of what is known was told, or not in a row', () => {
    expect(ordinary(days(1, 2), days(3, 4))).toBeUndefined();
    expect(ordinary(days(1, 2), [])).toBeUndefined();
    expect(ordinary(days(1, 3), days(1, 2))).toBeUndefined();
    expect(ordinary(days(1, 3), [test(1), test(3)])).toBeUndefined();
    expect(ordinary([test(1), test(3)], days(1, 3))).toBeUndefined();
  });

  it('where a hole was told', () => {
    expect(ordinary([], [hole])).toBeUndefined();
    expect(ordinary([test(1)], [hole, test(1)])).toBeUndefined();
    expect(ordinary([test(1)], [test(1), hole, test(2)])).toBeUndefined();
  });

  it('where a gap or two readings in conflict are known', () => {
    expect(ordinary([test(1), { kind: 'gap' }], [test(1)])).toBeUndefined();
    expect(ordinary([{ kind: 'gap' }, test(1)], [test(1)])).toBeUndefined();
    const rivals = [knownOn(1), knownOn(2, { conflictWith: knownOn(1).id })];
    expect(ordinary(rivals, [test(1)])).toBeUndefined();
    expect(ordinary([knownOn(1), knownOn(2)], [test(1), test(2)])).toBe('mm');
  });

  it('where two could be taken for each other: known ones, told ones, or a new one and a known one', () => {
    const twin = test(1 + MINUTE_OF_DAY / 2, { inr: '2.1' });
    expect(ordinary([test(1), twin], [test(1), twin])).toBeUndefined();
    expect(ordinary([], [test(1), twin])).toBeUndefined();
    expect(ordinary([test(1)], [test(1), twin])).toBeUndefined();
    const [x, y] = [errorTest('??'), errorTest('??')].map(({ meterTime: _, ...rest }) => rest);
    expect(ordinary([], [x, y] as TestRecord[])).toBeUndefined();
  });

  it('but not where minute, kind, code or any value tells them apart', () => {
    const twin = (more: Parameters<typeof test>[1] = {}) => test(1 + MINUTE_OF_DAY / 2, { inr: '2.1', ...more });
    expect(ordinary([], [test(1), test(1 + MINUTE_OF_DAY, { inr: '2.1' })])).toBe('nn');
    expect(ordinary([], [test(1), twin({ inr: '2.2' })])).toBe('nn');
    expect(ordinary([], [test(1), twin({ kind: 'control' })])).toBe('nn');
    expect(ordinary([], [errorTest('??', 'E4'), errorTest('??', 'E5')])).toBe('nn');
    expect(ordinary([], [errorTest('??'), errorTest('?!')])).toBe('nn');
    const pair = (pt: string) => ({
      values: ['2.1', pt].map((value, i) => ({ analyte: `A${i}`, value, unit: '' })),
    });
    expect(ordinary([], [test(1, pair('27')), twin(pair('28'))])).toBe('nn');
    expect(ordinary([], [test(1, pair('27')), twin(pair('27'))])).toBeUndefined();
  });

  it('where a stamp names no minute, or a record was cut', () => {
    expect(ordinary([], [test(1, { resolutionMs: 60_000 })])).toBe('n');
    expect(ordinary([], [test(1, { resolutionMs: 3_600_000 })])).toBeUndefined();
    expect(ordinary([test(1, { resolutionMs: 3_600_000 })], [test(1)])).toBeUndefined();
    expect(ordinary([], [test(1, { open: true })])).toBeUndefined();
    expect(ordinary([], [test(1, { open: false })])).toBe('n');
  });
});

it(`whatever is explained in one pass, the full search explains alike (SEED=${SEED})`, () => {
  const one = fc.record({ day: fc.integer({ min: 1, max: 5 }), inr: fc.constantFrom('2.5', '2.6'), lot: fc.boolean() });
  const image = fc
    .array(one, { maxLength: 5 })
    .map((all) =>
      all
        .toSorted((a, b) => a.day - b.day)
        .map(({ day, inr, lot }) => test(day, { inr, ...(lot && { lot: '1200003' }) })),
    );
  const capacity = fc.constantFrom(undefined, 3, 5, 200);
  let explained = 0;
  fc.assert(
    fc.property(image, image, fc.nat(5), capacity, (before, more, from, slots) => {
      const size = slots === undefined ? {} : { capacity: slots };
      const state: MemoryState = before.length === 0 ? EMPTY_MEMORY : fold(download(9, before, size)).state;
      const told = download(19, [...before.slice(from), ...more], size);
      const question = askOf(state, { ...state, memory: 0 }, told);
      const found = explainOrdinary(question);
      if (!found) return;
      explained++;
      // The full search counts besides what a new test costs that has the stamp of a known one; no step is cheaper.
      expect(found).toEqual({ ...align(question), cost: 0 });
    }),
    { seed: SEED, numRuns: runsOr(300) },
  );
  expect(explained).toBeGreaterThan(runsOr(300) / 10 - 1);
});
