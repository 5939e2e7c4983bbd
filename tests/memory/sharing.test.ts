/** Turning between memories of one name, what is set aside and what is marked, by hand. */
import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { type Instant, instant } from '../../src/core/instant.ts';
import type { DownloadId, ReadingId } from '../../src/core/reading.ts';
import type { SequenceWriter } from '../../src/memory/apply.ts';
import { isHeld, markShared, numbersOf, relabelled, setAside, turnTo } from '../../src/memory/sharing.ts';
import type { KnownTest, LastTold, MemoryState, SequenceItem } from '../../src/memory/state.ts';
import type { Question, Step } from '../../src/memory/steps.ts';
import type { Told } from '../../src/memory/which-memory.ts';
import { runsOr, seedOr } from '../support/seed.ts';
import { download, knownOn, START, test } from './meter-words.ts';

const SEED = seedOr(20260301);

const DAY = 86_400_000;
const onDay = (day: number): Instant => instant(START + day * DAY);
const last = (day: number): LastTold => ({
  download: `D${day}` as DownloadId,
  at: onDay(day),
  complete: true,
  full: false,
});
const gap = { kind: 'gap' } as const;
const match: Step = { kind: 'match', known: 0, claimant: 0, told: 0 };
const fresh = (told: number): Step => ({ kind: 'new', told, repeat: false });
const missing = (known: number): Step => ({ kind: 'missing', known });
const hole = (told: number): Step => ({ kind: 'hole', told, open: false });

/** What `whichMemory` found: a memory with its steps, of which one place is known unless said otherwise. */
const told = (
  state: MemoryState,
  memory: Told['memory'],
  steps: readonly Step[],
  known: readonly string[] = ['place'],
) =>
  ({
    state,
    memory,
    question: { known: known.map((kind) => ({ kind })), weak: true } as unknown as Question,
    explanation: { steps, doubtful: true, cost: 7 },
  }) as Told;

it('tests are held for half a year after two memories took turns, that day and no longer', () => {
  const state = (sharedAt?: Instant): MemoryState => ({
    retired: 0,
    sequence: [],
    ...(sharedAt !== undefined && { sharedAt }),
  });
  expect([isHeld(state(onDay(0)), onDay(183)), isHeld(state(onDay(0)), instant(onDay(183) + 1))]).toEqual([
    true,
    false,
  ]);
  expect(isHeld(state(), onDay(0))).toBe(false);
});

describe('a download that tells the memory told last', () => {
  const alone: MemoryState = { retired: 2, sequence: [knownOn(1)] };
  const shared: MemoryState = { ...alone, memory: 3, highestMemory: 5, highestRun: 9, sharedAt: onDay(1) };

  it('changes nothing beforehand', () => {
    const found = told(alone, { memory: 0 }, [missing(0), fresh(0)]);
    const turn = turnTo(alone, found, download(9, [test(2)]));
    expect(turn.before).toBe(alone);
    expect([turn.question, turn.explanation, turn.foundShared]).toEqual([found.question, found.explanation, false]);
  });

  it('changes nothing either where several share the name and something of it is known, or nothing is told', () => {
    const same = (steps: readonly Step[], known?: readonly string[], complete = true) =>
      turnTo(shared, told(shared, { memory: 3 }, steps, known), { ...download(9, []), complete }).before === shared;
    expect(same([match, fresh(1)])).toBe(true);
    expect(same([fresh(0), { kind: 'conflict', known: 0, told: 1 }])).toBe(true);
    expect(same([fresh(0)], [])).toBe(true);
    expect(same([fresh(0)], ['gap'])).toBe(true);
    expect(same([{ kind: 'untold', known: 0 }, hole(0)], ['place'], false)).toBe(true);
    expect(same([{ kind: 'untold', known: 0 }, hole(0), fresh(1)], ['place'], false)).toBe(false);
    expect(same([missing(0)])).toBe(false);
    expect(same([fresh(0)], ['gap', 'place'])).toBe(false);
  });

  it('is one more memory where several share the name and nothing of it is known: nothing is gone', () => {
    const found = told(shared, { memory: 3 }, [missing(0), hole(0), { kind: 'untold', known: 1 }, fresh(1)]);
    const turn = turnTo(shared, found, download(9, [test(2)]));
    const { highestRun: _, ...rest } = shared;
    expect(turn.before).toEqual({
      ...rest,
      memory: 6,
      highestMemory: 6,
      others: [{ memory: 3, highestRun: 9 }],
    });
    expect(turn.question).toEqual({ known: [], weak: true });
    expect(turn.explanation).toEqual({ steps: [{ ...hole(0), open: true }, fresh(1)], doubtful: true, cost: 7 });
    expect(turn.foundShared).toBe(false);
  });
});

describe('a download that tells another memory', () => {
  const state: MemoryState = {
    retired: 0,
    sequence: [],
    highestRun: 40,
    last: last(3),
    memory: 1,
    highestMemory: 2,
    others: [{ memory: 2 }, { memory: 0, highestRun: 7, last: last(2) }],
  };
  const united: MemoryState = { ...state, sequence: [knownOn(1, { memory: 0 })] };
  const turn = (
    more: Partial<MemoryState> = {},
    memory: Told['memory'] = { memory: 0, highestRun: 7, last: last(2) },
  ) => turnTo({ ...state, ...more }, told({ ...united, ...more }, memory, [match]), download(9, [test(1)]));

  it('brings it to the front, with its own number and clock, and the one told before behind the others', () => {
    expect(turn().before).toEqual({
      retired: 0,
      sequence: united.sequence,
      memory: 0,
      highestRun: 7,
      last: last(2),
      highestMemory: 2,
      others: [{ memory: 2 }, { memory: 1, highestRun: 40, last: last(3) }],
      sharedAt: onDay(9),
    });
    expect(Object.keys(turn({}, { memory: 2 }).before)).not.toContain('highestRun');
    expect(Object.keys(turn({}, { memory: 2 }).before)).not.toContain('last');
    expect(turn({}, { memory: 3 }).before.highestMemory).toBe(3);
  });

  it('says so, unless it was said within half a year', () => {
    expect(turn().foundShared).toBe(true);
    expect(turn({ sharedAt: onDay(8) }).foundShared).toBe(false);
    expect(turn({ sharedAt: onDay(8 - 183) }).foundShared).toBe(true);
    expect(turn({ sharedAt: onDay(8) }).before.sharedAt).toBe(onDay(9));
  });

  it('leaves eight others at most, the one not told for the longest time forgotten', () => {
    const others = [5, 6, 7, 8, 9, 10, 11, 12].map((memory) => ({ memory }));
    expect(turn({ others }).before.others?.map((one) => one.memory)).toEqual([6, 7, 8, 9, 10, 11, 12, 1]);
  });

  it('is the first one’s where no number was given yet', () => {
    const plain: MemoryState = { retired: 0, sequence: [] };
    const found = turnTo(plain, told(plain, { memory: 1 }, [match]), download(9, [test(1)]));
    expect(found.before).toEqual({
      ...plain,
      memory: 1,
      highestMemory: 1,
      others: [{ memory: 0 }],
      sharedAt: onDay(9),
    });
  });
});

it('the other memories are known by their numbers', () => {
  expect(numbersOf({ others: [{ memory: 4 }, { memory: 2 }] })).toEqual(new Set([4, 2]));
  expect(numbersOf({})).toEqual(new Set());
});

describe('a memory that vanished as a whole', () => {
  const numbered = (day: number, runNumber: number) => knownOn(day, { record: test(day, { runNumber }) });
  const before: MemoryState = { retired: 4, sequence: [numbered(1, 11), gap, numbered(2, 12)], last: last(2) };
  const after: MemoryState = { retired: 6, sequence: [knownOn(5)], highestRun: 99, last: last(9) };
  const both = new Set(['D1-1', 'D1-2'] as ReadingId[]);

  it('is set aside with its newest number, and what is told now goes by the next one', () => {
    expect(setAside(before, after, both)).toEqual({
      ...after,
      memory: 1,
      highestMemory: 1,
      others: [{ memory: 0, highestRun: 12, last: last(2) }],
      images: [{ memory: 0, from: 4, items: before.sequence }],
    });
  });

  it('keeps the number that it had, where none of its tests has one', () => {
    const bare = { ...before, sequence: [knownOn(1), knownOn(2)], highestRun: 30 };
    expect(setAside(bare, after, both).others).toEqual([{ memory: 0, highestRun: 30, last: last(2) }]);
    expect(setAside({ ...before, highestRun: 30 }, after, both).others?.[0]?.highestRun).toBe(12);
  });

  it('is remembered beside those before it, as long as they are among the eight', () => {
    const image = (memory: number) => ({ memory, from: memory, items: [knownOn(memory)] });
    const earlier: MemoryState = {
      ...before,
      memory: 9,
      highestMemory: 9,
      others: [1, 2, 3, 4, 5, 6, 7, 8].map((memory) => ({ memory })),
      images: [image(1), image(2), image(8)],
    };
    const next = setAside(earlier, after, both);
    expect([next.memory, next.highestMemory]).toEqual([10, 10]);
    expect(next.others?.map((one) => one.memory)).toEqual([2, 3, 4, 5, 6, 7, 8, 9]);
    expect(next.images?.map((one) => one.memory)).toEqual([2, 8, 9]);
  });

  it('is not set aside where some of it is still there, or several share the name: then all are in the sequence', () => {
    expect(setAside(before, after, new Set(['D1-1'] as ReadingId[]))).toBe(after);
    const shared = { ...after, sharedAt: onDay(3) };
    expect(setAside(before, shared, both)).toBe(shared);
  });
});

it('every test is marked once, after its own flags, and nothing else changes', () => {
  const flagged = (day: number, ...flags: string[]) => knownOn(day, { record: { ...test(day), flags } });
  const marked = flagged(2, 'lo', 'identity-shared');
  const sequence: SequenceItem[] = [flagged(1, 'lo'), gap, marked, { kind: 'past', count: 2 }];
  const done = markShared(sequence);
  expect(done.sequence).toEqual([flagged(1, 'lo', 'identity-shared'), gap, marked, { kind: 'past', count: 2 }]);
  expect(done.marked).toEqual([flagged(1, 'lo', 'identity-shared')]);
  expect(done.sequence[2]).toBe(marked);
});

describe('an earlier download that told the memory of this one', () => {
  const writer = {
    sightings: ['D3-1', 'D1-1', 'D1-2', 'D9-1'].map((reading) => ({ reading, isNew: reading === 'D9-1' })),
    borrowed: [{ id: 'D2-1' }, { id: 'D9-4' }] as KnownTest[],
  } as unknown as SequenceWriter;

  it('is every one whose tests this one tells, where the memory has now another number', () => {
    expect(relabelled('D9' as DownloadId, writer, true, 4)).toEqual([
      { download: 'D3', memory: 4 },
      { download: 'D1', memory: 4 },
    ]);
  });

  it('is else that whose tests were laid to another memory', () => {
    expect(relabelled('D9' as DownloadId, writer, false, 4)).toEqual([{ download: 'D2', memory: 4 }]);
  });
});

it(`however memories take turns, the one told is none of the others, and numbers are given once (SEED=${SEED})`, () => {
  fc.assert(
    fc.property(fc.array(fc.nat(12), { maxLength: 20 }), (turns) => {
      let state: MemoryState = { retired: 0, sequence: [], memory: 0 };
      for (const [day, turn] of turns.entries()) {
        const numbers = [state.memory ?? 0, ...(state.others ?? []).map((one) => one.memory)];
        const memory = numbers[turn] ?? (state.highestMemory ?? 0) + 1;
        state = turnTo(state, told(state, { memory }, [match]), download(day, [])).before;
        const after = [...numbersOf(state)];
        expect(state.memory).toBe(memory);
        expect(after).not.toContain(memory);
        expect(after).toEqual([...new Set(after)]);
        // The one told before is the last that would be forgotten.
        if (memory !== numbers[0]) expect(after.at(-1)).toBe(numbers[0]);
        expect(after.length).toBeLessThanOrEqual(8);
        expect(Math.max(memory, ...after)).toBeLessThanOrEqual(state.highestMemory ?? 0);
      }
    }),
    { seed: SEED, numRuns: runsOr(200) },
  );
});
