/** The memories of one name put into one sequence, and what is remembered of one that vanished as a whole, by hand. */
import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { instant } from '../../src/core/instant.ts';
import type { ReadingId } from '../../src/core/reading.ts';
import type { MemoryState, SequenceItem } from '../../src/memory/state.ts';
import { countOf, pushPast, unite, vanishedItems } from '../../src/memory/unite.ts';
import { runsOr, seedOr } from '../support/seed.ts';
import { knownOn, START } from './meter-words.ts';

const SEED = seedOr(20260301);
const gap = { kind: 'gap' } as const;
const past = (count: number) => ({ kind: 'past', count }) as const;
const ids = (...days: number[]) => new Set(days.map((day) => `D1-${day}` as ReadingId));

/** An item in a word: the day and memory of a test, `…` and the memory of a gap, `-` and how many are past. */
const word = (item: SequenceItem): string =>
  item.kind === 'past' ? `-${item.count}` : `${item.kind === 'gap' ? '…' : item.id.slice(3)}@${item.memory}`;

describe('a sequence of several memories', () => {
  const united = (state: MemoryState) => {
    const { retired, sequence } = unite(state);
    return [retired, ...sequence.map(word)];
  };

  it('numbers what stands in it by the memory told last', () => {
    expect(united({ retired: 4, sequence: [knownOn(1), gap, knownOn(2)] })).toEqual([4, '1@0', '…@0', '2@0']);
    expect(united({ retired: 4, memory: 3, sequence: [knownOn(1), gap] })).toEqual([4, '1@3', '…@3']);
    expect(united({ retired: 4, sequence: [] })).toEqual([4]);
  });

  it('takes the images in where they stood, each under its number', () => {
    expect(
      united({
        retired: 5,
        memory: 2,
        sequence: [knownOn(8), gap, knownOn(9)],
        images: [
          { memory: 0, from: 2, items: [knownOn(1), knownOn(2)] },
          { memory: 1, from: 4, items: [gap, knownOn(5)] },
        ],
      }),
    ).toEqual([2, '1@0', '2@0', '…@1', '5@1', '8@2', '…@2', '9@2']);
  });

  it('begins with the oldest image, and counts the tests between that nobody needs', () => {
    expect(
      united({
        retired: 6,
        sequence: [past(2), knownOn(9), gap],
        images: [
          { memory: 2, from: 4, items: [gap] },
          { memory: 1, from: 1, items: [knownOn(1), gap, past(2), knownOn(4)] },
        ],
      }),
    ).toEqual([1, '1@1', '…@1', '-2', '…@2', '4@1', '-3', '9@0', '…@0']);
  });

  it('keeps every gap that stands in one place', () => {
    expect(
      united({ retired: 1, memory: 1, sequence: [gap], images: [{ memory: 0, from: 0, items: [knownOn(1), gap] }] }),
    ).toEqual([0, '1@0', '…@0', '…@1']);
  });

  it('is left as it is once it was made, and keeps no images', () => {
    const shared: MemoryState = { retired: 0, sequence: [knownOn(1, { memory: 1 })], sharedAt: instant(START) };
    expect(unite(shared)).toBe(shared);
    const { images, ...rest } = { retired: 0, sequence: [], highestRun: 7, images: [] };
    expect(unite({ ...rest, images })).toEqual(rest);
    expect(unite({ ...rest, images })).not.toHaveProperty('images');
  });

  it(`has every test in the place that its memory gave it (SEED=${SEED})`, () => {
    const items = fc.array(fc.constantFrom<'test' | 'gap' | 'past'>('test', 'gap', 'past'), { maxLength: 5 });
    fc.assert(
      fc.property(items, fc.nat(3), items, (older, between, newer) => {
        let day = 0;
        const of = (kinds: readonly string[]): SequenceItem[] =>
          kinds.map((kind) => (kind === 'test' ? knownOn(++day) : kind === 'gap' ? gap : past(2)));
        const placesOf = (from: number, sequence: readonly SequenceItem[]) => {
          let at = from;
          return sequence.flatMap((item) => {
            const here = at;
            at += countOf(item);
            return item.kind === 'test' ? [`${item.id} ${here}`] : [];
          });
        };
        const [image, sequence] = [of(older), of(newer)];
        const retired = 7 + image.reduce((sum, item) => sum + countOf(item), between);
        const state = { retired, memory: 1, sequence, images: [{ memory: 0, from: 7, items: image }] };
        const made = unite(state);
        expect(placesOf(made.retired, made.sequence)).toEqual([...placesOf(7, image), ...placesOf(retired, sequence)]);
        const end = retired + sequence.reduce((sum, item) => sum + countOf(item), 0);
        expect(made.sequence.reduce((sum, item) => sum + countOf(item), made.retired)).toBe(end);
      }),
      { seed: SEED, numRuns: runsOr(200) },
    );
  });
});

it('tests that are past are one item with those right before them', () => {
  const sequence: SequenceItem[] = [];
  pushPast(sequence, 2);
  pushPast(sequence, 3);
  sequence.push(gap);
  pushPast(sequence, 1);
  sequence.push(knownOn(1));
  pushPast(sequence, 4);
  expect(sequence).toEqual([past(5), gap, past(1), knownOn(1), past(4)]);
  expect(sequence.map(countOf)).toEqual([5, 0, 1, 1, 4]);
});

describe('a memory that vanished as a whole', () => {
  const vanished = (sequence: readonly SequenceItem[], days: number[], retiredNow = 99, retired = 0) =>
    vanishedItems({ retired, sequence }, ids(...days), retiredNow)?.map((item) =>
      item.kind === 'test' ? item.id.slice(3) : item.kind === 'gap' ? '…' : `-${item.count}`,
    );

  it('is remembered with the gaps between its tests', () => {
    expect(vanished([knownOn(1), gap, knownOn(2)], [1, 2])).toEqual(['1', '…', '2']);
    expect(vanished([gap, past(2), knownOn(2)], [2])).toEqual(['…', '-2', '2']);
  });

  it('is not one while a settled test is still in it', () => {
    expect(vanished([knownOn(1), knownOn(2)], [1])).toBeUndefined();
    expect(vanished([knownOn(1), knownOn(2)], [2])).toBeUndefined();
    expect(vanished([knownOn(1), knownOn(2)], [])).toBeUndefined();
  });

  it('is one also where tests went before, or were only seen by downloads that broke off: those are counted', () => {
    const before = [knownOn(1, { gone: 'deleted' }), knownOn(2, { status: 'provisional' }), knownOn(3)];
    expect(vanished(before, [3])).toEqual(['-2', '3']);
  });

  it('has nothing behind its newest test', () => {
    expect(vanished([knownOn(1), gap], [1])).toEqual(['1']);
    expect(vanished([knownOn(1), gap, past(2), gap], [1])).toEqual(['1']);
    expect(vanished([knownOn(1), knownOn(2, { status: 'provisional' })], [1])).toEqual(['1']);
    expect(vanished([gap, past(1)], [])).toBeUndefined();
    expect(vanished([], [])).toBeUndefined();
  });

  it('leaves out what is not yet taken off the sequence', () => {
    const both = [knownOn(1), gap, knownOn(2)];
    expect(vanished(both, [1, 2], 2)).toEqual(['1', '…', '2']);
    expect(vanished(both, [1, 2], 1)).toEqual(['1']);
    expect(vanished(both, [1, 2], 0)).toBeUndefined();
    expect(vanished(both, [1, 2], 6, 5)).toEqual(['1']);
    expect(vanished(both, [1, 2], 7, 5)).toEqual(['1', '…', '2']);
  });
});
