/** Which of the memories of one name a download tells: what each would cost, by hand. */
import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import type { Download } from '../../src/core/download.ts';
import { instant } from '../../src/core/instant.ts';
import type { TestRecord } from '../../src/core/reading.ts';
import { EMPTY_MEMORY, type KnownTest, type MemoryState, type SequenceItem } from '../../src/memory/state.ts';
import { nextMemory, whichMemory } from '../../src/memory/which-memory.ts';
import { runsOr, seedOr } from '../support/seed.ts';
import { download, hole, knownOn, START, test } from './meter-words.ts';

const SEED = seedOr(20260301);

const held = (day: number, memory: number, more: Partial<KnownTest> = {}) => knownOn(day, { memory, ...more });
const known = (record: TestRecord, memory: number, more: Partial<KnownTest> = {}) =>
  held(1, memory, { record, ...more });

/** Two memories known to share the name, the one of number 0 told last. */
const shared = (sequence: readonly SequenceItem[], more: Partial<MemoryState> = {}): MemoryState => ({
  retired: 0,
  sequence,
  memory: 0,
  highestMemory: 1,
  others: [{ memory: 1 }],
  sharedAt: instant(START),
  ...more,
});
/** One memory, emptied, and what it held. */
const emptied = (...items: readonly SequenceItem[]): MemoryState => ({
  retired: items.length,
  sequence: [],
  memory: 1,
  highestMemory: 1,
  others: [{ memory: 0 }],
  images: [{ memory: 0, from: 0, items }],
});
const bare = (day: number, image: readonly TestRecord[]): Download => {
  const { capacity: _, ...rest } = download(day, image);
  return rest;
};

/** The number of the memory, its steps in short with `?` for what may be told again, and whether that is doubtful. */
function told(state: MemoryState, one: Download) {
  const { memory, explanation } = whichMemory(state, one);
  const steps = explanation.steps.map((step) => `${step.kind}${'repeat' in step && step.repeat ? '?' : ''}`);
  return [memory.memory, steps.join(' '), explanation.doubtful];
}

/** Tests by what it costs that they are told again as new: 300, 11 soon after a power loss, 8 with a day alone. */
const dear = test(1);
const early = (minute: number) => test(-59.3 + minute / 1440);
const coarse = (day: number) => test(day, { resolutionMs: 86_400_000, inr: `${day}` });

describe('one memory', () => {
  it('is told as long as nothing that stood in another is told as new', () => {
    const state = { ...EMPTY_MEMORY, sequence: [knownOn(1)] };
    const found = whichMemory(state, download(9, [test(1), test(2)]));
    expect(found.state).toBe(state);
    expect([found.memory.memory, found.explanation.steps.map((s) => s.kind)]).toEqual([0, ['match', 'new']]);
    expect(told({ ...state, memory: 4 }, download(9, [test(1)]))[0]).toBe(4);
    expect(told(emptied(knownOn(1)), download(9, [test(2)]))).toEqual([1, 'new', false]);
    expect(told(emptied({ kind: 'gap' }, { kind: 'past', count: 2 }), download(9, [test(2)]))[0]).toBe(1);
  });

  it('that was emptied and tells what it held is another, unless that is as likely told again', () => {
    expect(told(emptied(knownOn(1, { record: dear })), download(9, [dear]))).toEqual([0, 'match', false]);
    // Another memory under the name costs 35.
    const again = (...records: TestRecord[]) =>
      told(emptied(...records.map((record) => knownOn(1, { record }))), download(9, records));
    expect(again(early(1), early(2), early(3))).toEqual([1, 'new? new? new?', true]);
    expect(again(early(1), early(2), early(3), early(4))).toEqual([0, 'match match match match', false]);
    expect(again(early(1), coarse(1), coarse(2), coarse(3))).toEqual([1, 'new? new? new? new?', true]);
    expect(again(coarse(1), coarse(2), coarse(3), coarse(4))).toEqual([1, 'new? new? new? new?', true]);
    expect(again(...[1, 2, 3, 4, 5].map(coarse))[0]).toBe(0);
    expect(again(test(1, { resolutionMs: 60_000 }))[0]).toBe(0);
  });

  it('is marked only where a new test is one that stood there', () => {
    expect(told(emptied(knownOn(1, { record: early(1) })), download(9, [early(1), test(5)]))).toEqual([
      1,
      'new? new',
      true,
    ]);
  });

  it('is no other for tests that have neither stamp nor number, whose like is made again', () => {
    const { meterTime: _, ...rest } = test(1);
    const unset: TestRecord = { ...rest, meterTimeText: '' };
    expect(told(emptied(knownOn(1, { record: unset })), download(9, [unset]))).toEqual([1, 'new', false]);
    const counted = (run: number): TestRecord => ({ ...unset, runNumber: run, lossCount: 1 });
    // A number proves as much as a stamp that names a day.
    const five = [1, 2, 3, 4, 5].map(counted);
    const state = emptied(...five.map((record) => knownOn(1, { record })));
    expect(told(state, download(9, five))[0]).toBe(0);
    expect(told(state, download(9, five.slice(1)))).toEqual([1, 'new? new? new? new?', true]);
    // Nor does it make another one likelier.
    const four = [early(1), early(2), early(3), unset];
    expect(told(emptied(...four.map((record) => knownOn(1, { record }))), download(9, four))).toEqual([
      1,
      'new? new? new? new',
      true,
    ]);
  });

  it('is no other where nothing of that is told that it held', () => {
    // All four are told with other values, 8 each, and were deleted, 10; to call that a memory without tests costs 35.
    const others = [1, 2, 3, 4].map((day) => test(day, { inr: '9.9' }));
    const state: MemoryState = {
      ...emptied(knownOn(1, { record: coarse(9) })),
      sequence: [1, 2, 3, 4].map((day) => knownOn(day)),
    };
    expect(told(state, download(9, [...others, coarse(9)]))).toEqual([
      1,
      `${'missing '.repeat(4)}${'new '.repeat(4)}new?`,
      true,
    ]);
  });

  it('tells what went from it only if it is another', () => {
    const state = { ...EMPTY_MEMORY, sequence: [knownOn(1, { gone: 'deleted' }), knownOn(2)] };
    const found = whichMemory(state, download(9, [test(1)]));
    // A memory of which nothing is known but what was laid to the first one.
    expect([found.memory, found.explanation.steps.map((s) => s.kind)]).toEqual([{ memory: 1 }, ['close', 'match']]);
    expect(found.state.sequence).toEqual([held(1, 0, { gone: 'deleted' }), held(2, 0)]);
  });
});

describe('memories that take turns', () => {
  const both = shared([held(1, 0), held(2, 0), held(3, 1), held(4, 1)]);

  it('are told apart by what they hold', () => {
    expect(told(both, download(9, [test(1), test(2), test(5)]))).toEqual([0, 'match match new', false]);
    expect(told(both, download(9, [test(3), test(4), test(5)]))).toEqual([1, 'match match new', false]);
    expect(told({ ...both, memory: 1, others: [{ memory: 0 }] }, download(9, [test(1), test(2)]))[0]).toBe(0);
    expect(told(both, download(9, [test(5)]))[0]).toBe(0);
  });

  it('cost little to turn to, and more where they are only presumed', () => {
    const state = shared([known(coarse(3), 1)]);
    expect(told(state, download(9, [coarse(3)]))).toEqual([1, 'match', false]);
    expect(told(emptied(knownOn(1, { record: coarse(3) })), download(9, [coarse(3)]))).toEqual([1, 'new?', true]);
  });

  it('are asked only where something that they hold is told', () => {
    const three = shared([held(1, 0), held(3, 1), held(5, 2)], { others: [{ memory: 1 }, { memory: 2 }] });
    expect(told(three, download(9, [test(5)]))[0]).toBe(2);
    expect(told(three, download(9, [test(3)]))[0]).toBe(1);
  });

  it('are not asked where only what all of them hold, or nothing, is told again', () => {
    const first = test(1);
    const three = shared([held(1, 0), held(2, 0), held(5, 1), held(6, 1), known(first, 2)], {
      others: [{ memory: 1 }, { memory: 2 }],
    });
    // The third would cost less: nothing of it was deleted. But what the first lacks is not in it.
    expect(told(three, download(9, [first, test(5)]))).toEqual([0, 'match missing new?', true]);
    // What is in conflict with one of its own is not looked for in another.
    const own = shared([known(test(1, { inr: '9.9' }), 0), known(first, 1, { status: 'provisional' }), held(2, 0)]);
    expect(told(own, download(9, [first, test(2)]))).toEqual([0, 'conflict match', false]);
  });

  it('say nothing of a test that repeats one of their own, nor of a gap', () => {
    const both = shared([known(early(1), 0), known(coarse(3), 1), held(4, 1), { kind: 'gap', memory: 1 }]);
    expect(told(both, download(9, [early(1), early(1), coarse(3)]))).toEqual([0, 'match new new?', true]);
    // One that both hold is one of its own.
    const same = shared([held(1, 0), held(2, 0), held(3, 0), held(1, 1), known(coarse(3), 1), held(4, 1)]);
    expect(told(same, download(9, [test(1), test(2), test(3), coarse(3)]))).toEqual([
      0,
      'match match match new?',
      true,
    ]);
  });

  it('keep their own highest number and last clock', () => {
    const state = shared([held(1, 1)], { highestRun: 50, others: [{ memory: 1, highestRun: 7 }] });
    const found = whichMemory(state, download(9, [test(1), test(2, { runNumber: 8 })]));
    expect([found.memory.highestRun, found.question.highestRun, found.explanation.cost]).toEqual([7, 7, 0]);
  });
});

describe('a test that was laid to another memory', () => {
  const provisional = (day: number, memory: number) => held(day, memory, { status: 'provisional' });

  it('is taken from it where it was only seen by downloads that broke off, or is gone', () => {
    const tell = (lent: KnownTest) => told(shared([held(1, 0), lent]), download(9, [test(1), test(2)]));
    expect(tell(provisional(2, 1))).toEqual([0, 'match close match', false]);
    expect(tell(held(2, 1, { gone: 'vanished' }))).toEqual([0, 'match close match', false]);
    // Also behind a hole.
    const both = shared([held(1, 0), provisional(2, 1)]);
    expect(told(both, download(9, [test(1), hole, test(2)]))[0]).toBe(0);
    // One that is settled there is another.
    expect(tell(held(2, 1))).toEqual([0, 'match new?', true]);
  });

  it('is taken only if it was told and says something', () => {
    const both = shared([held(1, 0), provisional(2, 1), provisional(3, 1)]);
    const found = whichMemory(both, download(9, [test(1), test(2)]));
    expect(found.question.known.flatMap((item) => (item.kind === 'place' ? item.tests : [])).map((t) => t.id)).toEqual([
      'D1-1',
      'D1-2',
    ]);
  });

  it('costs a little: more than to tell the memory that lies aside, less than that some of it is gone', () => {
    // Borrowed for 5; by turning to the other memory, whose oldest is then gone, 4 and 2.
    const lost = shared([held(1, 1), provisional(2, 1)]);
    expect(told(lost, bare(9, [test(2)]))).toEqual([0, 'close match', false]);
    // One more memory would hold it as well, but 35 and 5 are more than that the oldest of the other was deleted.
    expect(told(shared([held(1, 1), provisional(2, 1), held(3, 0)]), download(9, [test(2)]))).toEqual([
      1,
      'missing match',
      false,
    ]);
    // Nothing of it is gone: 2.
    expect(told(shared([provisional(2, 1)]), bare(9, [test(2)]))).toEqual([1, 'match', false]);
  });

  it('costs as much where one of its own claims the place too', () => {
    const own = held(1, 0, { conflictWith: knownOn(2).id });
    expect(told(shared([provisional(2, 1), own]), download(9, [test(2)]))).toEqual([1, 'match', false]);
  });

  it('costs nothing where its like is met in its place', () => {
    // In both others the oldest are gone, 4, but only one could borrow: of two that cost the same the first is told.
    const gone = held(1, 2, { gone: 'vanished' });
    const three = shared([held(7, 0), gone, held(1, 1), held(0.5, 2), held(1, 2)], {
      others: [{ memory: 1 }, { memory: 2 }],
    });
    expect(told(three, bare(9, [test(1)]))).toEqual([1, 'close missing match', false]);
  });

  it('makes a memory of its own, for 40, where nothing else fits', () => {
    const lent = (records: TestRecord[]) =>
      shared([held(1, 0), held(5, 1), ...records.map((record) => known(record, 1, { status: 'provisional' }))]);
    expect(told(lent([dear]), download(9, [dear]))[0]).toBe(0);
    // Told by the one memory: its test is deleted, 10, and each that went is told again, 11.
    const again = (...records: TestRecord[]) => {
      const went = records.map((record) => knownOn(2, { record, gone: 'deleted' }));
      return told({ ...EMPTY_MEMORY, sequence: [knownOn(1), ...went] }, download(9, records))[0];
    };
    expect([again(early(1), early(2)), again(early(1), early(2), early(3))]).toEqual([0, 1]);
  });
});

it('a memory that was never told has the next number', () => {
  expect([nextMemory(EMPTY_MEMORY), nextMemory({ ...EMPTY_MEMORY, highestMemory: 4 })]).toEqual([1, 5]);
});

it(`of memories that have nothing in common the one is found whose tests are told, and none is doubted (SEED=${SEED})`, () => {
  const sizes = fc.array(fc.integer({ min: 1, max: 4 }), { minLength: 2, maxLength: 4 });
  fc.assert(
    fc.property(sizes, fc.nat(3), fc.nat(3), fc.nat(2), (counts, present, which, more) => {
      const all = counts.map((count, memory) => Array.from({ length: count }, (_, i) => test(1 + i + memory / 10)));
      const sequence = all.flatMap((tests, memory) =>
        tests.map((record, i) => held(memory * 10 + i, memory, { record })),
      );
      const front = present % counts.length;
      const others = all.flatMap((_, memory) => (memory === front ? [] : [{ memory }]));
      const mine = which % counts.length;
      const image = [...(all[mine] ?? []), ...Array.from({ length: more }, (_, i) => test(20 + i))];
      const state = shared(sequence, { memory: front, others, highestMemory: counts.length - 1 });
      const steps = [...image].map((_, at) => (at < (all[mine] ?? []).length ? 'match' : 'new'));
      expect(told(state, download(30, image))).toEqual([mine, steps.join(' '), false]);
    }),
    { seed: SEED, numRuns: runsOr(200) },
  );
});
