/** What may still be in a memory, in order, and what it may have borrowed, by hand. */
import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { type Standing, standingOf } from '../../src/memory/standing.ts';
import type { KnownTest, SequenceItem } from '../../src/memory/state.ts';
import { runsOr, seedOr } from '../support/seed.ts';
import { knownOn } from './meter-words.ts';

const gap = { kind: 'gap' } as const;
const SEED = seedOr(20260301);

const past = { kind: 'past', count: 2 } as const;
const rival = (day: number, of: number, more: Partial<KnownTest> = {}) =>
  knownOn(day, { conflictWith: knownOn(of).id, ...more });

/** A place by its days, a gap as `…` with its room, both with the items that they stand for. */
const word = (item: Standing): string =>
  `${item.kind === 'gap' ? `…${item.gap.atMost ?? ''}` : item.tests.map((one) => one.id.slice(3)).join('+')}[${item.from},${item.to})`;
const standing = (sequence: readonly SequenceItem[], memory = 0, mayBorrow?: (test: KnownTest) => boolean) =>
  standingOf({ sequence }, memory, mayBorrow).map(word).join(' ');

describe('in a memory stand', () => {
  it('its tests and gaps, where they are in the sequence', () => {
    expect(standing([knownOn(1), gap, knownOn(2), { ...gap, atMost: 3 }])).toBe('1[0,1) …[1,2) 2[2,3) …3[3,4)');
    expect(standing([])).toBe('');
  });

  it('no tests that are gone, and nothing that is past', () => {
    expect(standing([past, knownOn(1, { gone: 'deleted' }), knownOn(2), knownOn(3, { gone: 'vanished' })])).toBe(
      '2[2,3)',
    );
  });

  it('no gaps before a test that was overwritten', () => {
    const overwritten = knownOn(2, { gone: 'overwritten' });
    expect(standing([gap, knownOn(1), gap, overwritten, gap, knownOn(3)])).toBe('1[1,2) …[4,5) 3[5,6)');
    expect(standing([gap, knownOn(2, { gone: 'deleted' })])).toBe('…[0,1)');
    // Another memory's says nothing of this one.
    expect(standing([gap, { ...overwritten, memory: 1 }])).toBe('…[0,1)');
    expect(
      standing([
        { ...gap, memory: 0 },
        { ...overwritten, memory: 0 },
      ]),
    ).toBe('');
  });

  it('one place for readings in conflict, if nothing stands between them', () => {
    expect(standing([knownOn(1), rival(2, 1), knownOn(3)])).toBe('1+2[0,2) 3[2,3)');
    expect(standing([rival(1, 2), knownOn(2)])).toBe('1+2[0,2)');
    expect(standing([rival(1, 3), knownOn(2), knownOn(3)])).toBe('1[0,1) 2[1,2) 3[2,3)');
    expect(standing([knownOn(1), gap, rival(2, 1)])).toBe('1[0,1) …[1,2) 2[2,3)');
    expect(standing([knownOn(1), past, rival(2, 1)])).toBe('1[0,1) 2[2,3)');
    expect(standing([knownOn(1), rival(2, 1), rival(3, 1), rival(4, 9)])).toBe('1+2+3[0,3) 4[3,4)');
  });

  it('only its own, where several memories share the name', () => {
    const of = (day: number, memory: number) => knownOn(day, { memory });
    const sequence = [of(1, 0), of(2, 1), { ...gap, memory: 1 }, of(3, 0), { ...gap, memory: 0 }];
    expect(standing(sequence)).toBe('1[0,1) 3[3,4) …[4,5)');
    expect(standing(sequence, 1)).toBe('2[1,2) …[2,3)');
    expect(standing(sequence, 2)).toBe('');
    expect(standing([knownOn(1), of(2, 2)], 2)).toBe('1[0,1) 2[1,2)');
  });
});

describe('borrowed from another memory', () => {
  const of = (day: number, memory: number, more: Partial<KnownTest> = {}) => knownOn(day, { memory, ...more });
  const any = () => true;

  it('are the tests that may be, gone or not, with a gap before them that takes no item', () => {
    expect(standing([of(1, 0), of(2, 1), of(3, 0)], 0, any)).toBe('1[0,1) …[1,1) 2[1,2) 3[2,3)');
    expect(standing([of(1, 1, { gone: 'vanished' })], 0, any)).toBe('…[0,0) 1[0,1)');
    expect(standing([of(1, 0, { gone: 'vanished' })], 0, any)).toBe('');
    expect(standing([of(1, 1), of(2, 1)], 0, (test) => test.id === 'D1-2')).toBe('…[1,1) 2[1,2)');
    expect(standing([of(1, 1)], 0)).toBe('');
    expect(standingOf({ sequence: [of(1, 1)] }, 0, any)[0]).toEqual({ kind: 'gap', gap, from: 0, to: 0 });
  });

  it('with one gap before those that go on in a row, and none where a gap is there', () => {
    expect(standing([of(1, 1), of(2, 1), of(3, 2)], 0, any)).toBe('…[0,0) 1[0,1) 2[1,2) …[2,2) 3[2,3)');
    expect(standing([{ ...gap, memory: 0 }, of(1, 1)], 0, any)).toBe('…[0,1) 1[1,2)');
    expect(standing([of(1, 1), { ...gap, memory: 1 }, of(2, 1)], 0, any)).toBe('…[0,0) 1[0,1) …[2,2) 2[2,3)');
    expect(standing([of(1, 1), of(2, 2), of(3, 1)], 0, (test) => test.memory === 1)).toBe(
      '…[0,0) 1[0,1) …[2,2) 3[2,3)',
    );
  });

  it('claim one place where they are in conflict', () => {
    expect(standing([of(1, 1), rival(2, 1, { memory: 1 })], 0, any)).toBe('…[0,0) 1+2[0,2)');
  });
});

it(`every test that may be in the memory stands in one place, in the order of the sequence (SEED=${SEED})`, () => {
  const item = fc.oneof(
    fc.record({ memory: fc.nat(1), isGone: fc.boolean(), rival: fc.nat(8) }),
    fc.constantFrom(gap, past, { ...gap, memory: 1 }),
  );
  fc.assert(
    fc.property(fc.array(item, { maxLength: 9 }), (items) => {
      const sequence = items.map((one, day) =>
        'kind' in one
          ? one
          : rival(day, one.rival, { memory: one.memory, ...(one.isGone && { gone: 'deleted' as const }) }),
      );
      const found = standingOf({ sequence }, 0);
      const days = found.flatMap((one) => (one.kind === 'place' ? one.tests : []));
      expect(days).toEqual(sequence.filter((one) => one.kind === 'test' && one.memory === 0 && !one.gone));
      for (const [at, one] of found.entries()) {
        expect(one.from).toBeGreaterThanOrEqual(found[at - 1]?.to ?? 0);
        if (one.kind === 'place') expect(sequence.slice(one.from, one.to)).toEqual(one.tests);
        else expect(sequence[one.from]).toBe(one.gap);
      }
    }),
    { seed: SEED, numRuns: runsOr(300) },
  );
});
