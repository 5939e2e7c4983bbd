/** What is taken off the old end of a meter's sequence, and what stays, by hand. */
import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { shorten } from '../../src/memory/shorten.ts';
import type { SequenceItem } from '../../src/memory/state.ts';
import { countOf } from '../../src/memory/unite.ts';
import { runsOr, seedOr } from '../support/seed.ts';
import { knownOn } from './meter-words.ts';

const SEED = seedOr(20260301);
const gap = { kind: 'gap' } as const;
const past = (count: number) => ({ kind: 'past', count }) as const;
const gone = (day: number, memory?: number) =>
  knownOn(day, { gone: 'deleted', ...(memory !== undefined && { memory }) });

/** How many are retired, the sequence in words, and the days given up. Memory 0 is told, 1 and 2 are remembered. */
function short(sequence: readonly SequenceItem[], capacity?: number, retired = 0) {
  const done = shorten(retired, sequence, capacity, { told: 0, others: new Set([1, 2]) });
  const words = done.sequence.map((item) =>
    item.kind === 'test' ? item.id.slice(3) : item.kind === 'gap' ? '…' : `-${item.count}`,
  );
  return [done.retired, words.join(' '), done.outlived.map((one) => `${one.id.slice(3)} ${one.gone}`).join(', ')];
}
const days = (from: number, to: number) => Array.from({ length: to - from + 1 }, (_, i) => knownOn(from + i));

describe('a test that twice as many newer ones follow as the memory holds', () => {
  it('is given up', () => {
    expect(short(days(1, 4), 2)).toEqual([0, '1 2 3 4', '']);
    expect(short(days(1, 6), 2, 10)).toEqual([12, '3 4 5 6', '1 vanished, 2 vanished']);
  });

  it('goes with the gaps before and behind it', () => {
    expect(short([gap, knownOn(1), gap, ...days(2, 3)], 1)).toEqual([1, '2 3', '1 vanished']);
  });

  it('is not given up for those that are gone, or that another memory holds', () => {
    expect(short([...days(1, 2), gone(3), gone(4), gap], 1)).toEqual([0, '1 2 3 4 …', '']);
    expect(short([...days(1, 2), knownOn(3, { memory: 1 }), knownOn(4, { memory: 2 })], 1)).toEqual([0, '1 2 3 4', '']);
    expect(short([...days(1, 2), knownOn(3, { memory: 0 })], 1)).toEqual([1, '2 3', '1 vanished']);
  });

  it('is given up only beyond 2000 where nobody knows what the memory holds', () => {
    expect(short(days(1, 2000)).slice(2)).toEqual(['']);
    const [retired, , outlived] = short(days(1, 2001));
    expect([retired, outlived]).toEqual([1, '1 vanished']);
  });
});

describe('tests that are gone', () => {
  it('are retired at the old end alone', () => {
    expect(short([gone(1), gone(2), knownOn(3), gone(4)], 5, 7)).toEqual([9, '3 4', '']);
    expect(short([gap, gone(1), knownOn(2)], 5)).toEqual([0, '… 1 2', '']);
    expect(short([gone(1), gone(2)], 5)).toEqual([2, '', '']);
    expect(short([], 5, 3)).toEqual([3, '', '']);
  });

  it('are counted as past where a test of another memory stands before them', () => {
    const other = knownOn(1, { memory: 1 });
    expect(short([other, gone(2), gone(3, 0), knownOn(4)], 5, 3)).toEqual([3, '1 -2 4', '']);
    expect(short([other, past(2), gone(3), knownOn(4)], 5)).toEqual([0, '1 -3 4', '']);
    expect(short([past(2), gone(3), other, past(1)], 5, 1)).toEqual([4, '1 -1', '']);
  });

  it('stay where they are another memory’s', () => {
    expect(short([gone(1, 1), gone(2), knownOn(3)], 5)).toEqual([0, '1 -1 3', '']);
  });
});

it('what a memory held that is no longer remembered is given up, with its gaps', () => {
  const forgotten = [knownOn(1, { memory: 3 }), { ...gap, memory: 3 }, gone(2, 3)];
  expect(short([...forgotten, knownOn(3, { memory: 2 }), knownOn(4)], 5)).toEqual([2, '3 4', '1 vanished']);
  expect(short([knownOn(3), ...forgotten, { ...gap, memory: 2 }], 5)).toEqual([0, '3 -2 …', '1 vanished']);
});

it(`no position changes: what is taken off is counted (SEED=${SEED})`, () => {
  const item = fc.oneof(fc.record({ memory: fc.nat(3), isGone: fc.boolean() }), fc.constantFrom(gap, past(1), past(3)));
  fc.assert(
    fc.property(fc.array(item, { maxLength: 12 }), fc.nat(3), (items, capacity) => {
      const sequence = items.map((one, day) =>
        'kind' in one ? one : knownOn(day, { memory: one.memory, ...(one.isGone && { gone: 'deleted' }) }),
      );
      const placesOf = (from: number, all: readonly SequenceItem[]) => {
        let at = from;
        const places = new Map<string, number>();
        for (const one of all) {
          if (one.kind === 'test') places.set(one.id, at);
          at += countOf(one);
        }
        return { places, end: at };
      };
      const before = placesOf(5, sequence);
      const done = shorten(5, sequence, capacity, { told: 0, others: new Set([1, 2]) });
      const after = placesOf(done.retired, done.sequence);
      expect(after.end).toBe(before.end);
      for (const [id, place] of after.places) expect(place).toBe(before.places.get(id));
    }),
    { seed: SEED, numRuns: runsOr(300) },
  );
});
