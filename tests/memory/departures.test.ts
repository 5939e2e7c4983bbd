/** How tests left the memory, and how many of the oldest can have been overwritten, by hand. */
import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import type { Download } from '../../src/core/download.ts';
import { departuresOf, isFull, overwritableIn } from '../../src/memory/departures.ts';
import type { Standing } from '../../src/memory/standing.ts';
import type { Question, Step } from '../../src/memory/steps.ts';
import { runsOr, seedOr } from '../support/seed.ts';
import { download, hole, knownOn, test } from './meter-words.ts';

const SEED = seedOr(20260301);

/** A known place in words: a day, or `…` with how many may sit in the gap; `at` is a slot of a ring that it keeps. */
type Known = number | '…' | { at: number } | { atMost: number };
const standing = (known: readonly Known[]): Standing[] =>
  known.map((item, from): Standing => {
    const to = from + 1;
    if (item === '…') return { kind: 'gap', gap: { kind: 'gap' }, from, to };
    if (typeof item === 'number') return { kind: 'place', tests: [knownOn(item)], from, to };
    if ('atMost' in item) return { kind: 'gap', gap: { kind: 'gap', ...item }, from, to };
    return { kind: 'place', tests: [knownOn(from, { ringSlot: item.at })], from, to };
  });
/** Told tests: a slot of a ring, `-` for a test without one, or a hole. */
const sightings = (told: readonly (number | '-' | typeof hole)[]): Question['sightings'] =>
  told.map((slot) =>
    slot === hole ? undefined : { record: test(1), ...(typeof slot === 'number' && { ringSlot: slot }) },
  );
const tests = (count: number) => Array.from({ length: count }, () => test(1));
const without = (field: 'capacity' | 'held', one: Download): Download => {
  const { [field]: _, ...rest } = one;
  return rest as Download;
};

it('a memory is full that holds as many as it has slots, or will with what was made since', () => {
  const held = (count: number) => download(9, [], { capacity: 5, held: count });
  expect([4, 5, 6].map((count) => isFull(held(count)))).toEqual([false, true, true]);
  expect([isFull(held(3), 1), isFull(held(3), 2), isFull(held(6), -1)]).toEqual([false, true, true]);
  expect([isFull(without('capacity', held(9))), isFull(without('held', held(9)))]).toEqual([false, false]);
});

describe('of the oldest places can have been overwritten', () => {
  const most = (one: Download, known: readonly Known[], told: Parameters<typeof sightings>[0] = []) =>
    overwritableIn(one, { known: standing(known), sightings: sightings(told) });
  const holds = (count: number, more: Partial<Download> = {}) => download(9, tests(count), { capacity: 5, ...more });

  it('any number in a full memory, and nobody knows how many where the capacity is not known', () => {
    expect(most(holds(5), [1, 2])).toBe(Number.POSITIVE_INFINITY);
    expect(most(without('capacity', holds(5)), [1, 2])).toBeUndefined();
  });

  it('as many as have the capacity in newer ones behind them', () => {
    // Four are held: behind the oldest of six known ones there are nine, behind the newest four.
    expect(most(holds(4), [1, 2, 3, 4, 5, 6])).toBe(5);
    expect(most(holds(1), [1, 2, 3, 4, 5, 6])).toBe(2);
    expect(most(holds(0), [1, 2, 3, 4, 5])).toBe(0);
    expect(most(holds(0), [1, 2, 3, 4, 5, 6])).toBe(1);
  });

  it('counting what may sit in a gap', () => {
    expect(most(holds(1), [1, { atMost: 2 }, 2])).toBe(0);
    expect(most(holds(1), [1, { atMost: 3 }, 2])).toBe(1);
    expect(most(holds(1), [1, '…', 2])).toBe(1);
    expect(most(holds(1), ['…', 1, '…', 2])).toBe(1);
    expect(most(holds(1), [1, 2, '…'])).toBe(2);
  });

  it('by what it says to hold; else by what a complete one told, and without bound where it broke off', () => {
    const known = [1, 2, 3, 4, 5];
    expect(most(holds(4, { held: 1 }), known)).toBe(1);
    expect(most(without('held', holds(3)), known)).toBe(3);
    expect(most(without('held', holds(1, { complete: false })), known)).toBe(5);
  });

  it('of a ring, those in front of the first whose slot was not told again', () => {
    const ring = [{ at: 1 }, { at: 2 }, { at: 3 }];
    expect(most(holds(2), ring, [1, 2])).toBe(2);
    expect(most(holds(2), ring, [2, 3])).toBe(0);
    expect(most(holds(2), ring, [1, 3])).toBe(1);
    expect(most(holds(3), ring, [3, 1, 2])).toBe(3);
    expect(most(holds(2), ['…', { at: 1 }, '…', { at: 2 }], [1])).toBe(1);
    expect(most(holds(2), [{ at: 1 }, 2], [1])).toBe(1);
    // One that broke off, or told no slots, does not show it.
    expect(most(holds(2, { complete: false, held: 2 }), ring, [1])).toBe(0);
    expect(most(holds(2), ring, ['-', '-'])).toBe(0);
    expect(most(holds(2), ring, ['-', 1])).toBe(1);
  });

  it('and of a place in conflict, that one counts which has a slot', () => {
    const place: Standing = { kind: 'place', tests: [knownOn(1), knownOn(2, { ringSlot: 3 })], from: 0, to: 2 };
    const told = (slot: number) => overwritableIn(holds(1), { known: [place], sightings: sightings([slot]) });
    expect([told(3), told(4)]).toEqual([1, 0]);
  });
});

describe('a place that is missing', () => {
  /** How each place went; the steps in short: m match, x conflict, n new, - missing, u untold, c closed, h hole. */
  function departures(
    one: Download,
    known: readonly Known[],
    shorts: string,
    told: Parameters<typeof sightings>[0] = [],
  ) {
    let k = 0;
    let t = 0;
    const steps = [...shorts].map((short): Step => {
      if (short === 'm') return { kind: 'match', known: k++, claimant: 0, told: t++ };
      if (short === 'x') return { kind: 'conflict', known: k++, told: t++ };
      if (short === 'n') return { kind: 'new', told: t++, repeat: false };
      if (short === 'h') return { kind: 'hole', told: t++, open: true };
      return { kind: short === '-' ? 'missing' : short === 'u' ? 'untold' : 'close', known: k++ };
    });
    const question = { known: standing(known), sightings: sightings(told) } as unknown as Question;
    return Object.fromEntries(departuresOf(one, question, steps));
  }
  const full = (more: Partial<Download> = {}) => download(9, tests(3), { capacity: 3, ...more });

  it('was deleted where an older test is still there, was told otherwise, is new or may be under a hole', () => {
    // So many new ones would have overwritten it.
    expect(departures(full(), [1, 2, 3], 'm-mnnn')).toEqual({ 1: 'deleted' });
    expect(departures(full(), [1, 2, 3], 'x-mnnn')).toEqual({ 1: 'deleted' });
    expect(departures(full(), [1, 2], 'n-mnnn')).toEqual({ 0: 'deleted' });
    expect(departures(full(), [1, 2, 3], 'uh-mnnn')).toEqual({ 1: 'deleted' });
    expect(departures(full(), [1, 2], 'h-mnnn')).toEqual({ 0: 'deleted' });
    expect(departures(full(), [1, 2, 3], 'm--nnn')).toEqual({ 1: 'deleted', 2: 'deleted' });
    expect(departures(full(), [1, 2, 3, 4], 'm-m-nnn')).toEqual({ 1: 'deleted', 3: 'deleted' });
  });

  it('is not shown to be deleted by a gap that closed in front of it', () => {
    expect(departures(full(), ['…', 1, 2, 3], 'c-mmn')).toEqual({ 1: 'overwritten' });
  });

  it('at the old end was overwritten where a full memory has so many newer ones', () => {
    expect(departures(full(), [1, 2, 3], '-mmn')).toEqual({ 0: 'overwritten' });
    expect(departures(full(), [1, 2, 3], '--mnn')).toEqual({ 0: 'overwritten', 1: 'overwritten' });
  });

  it('went by either way where more are gone than can have been overwritten, or the memory is not full', () => {
    expect(departures(full(), [1, 2, 3], '--mn')).toEqual({ 0: 'vanished', 1: 'vanished' });
    expect(departures(full({ held: 2 }), [1, 2, 3], '-mmn')).toEqual({ 0: 'vanished' });
  });

  it('was deleted where nothing can have been overwritten', () => {
    expect(departures(full(), [1, 2, 3], '-mm')).toEqual({ 0: 'deleted' });
    expect(departures(full({ held: 2 }), [1, 2, 3], '--m')).toEqual({ 0: 'deleted', 1: 'deleted' });
  });

  it('went by either way where nobody knows the capacity, or the download broke off in a memory that is not full', () => {
    expect(departures(without('capacity', full()), [1, 2], '-m')).toEqual({ 0: 'vanished' });
    expect(departures(full({ complete: false, held: 2 }), [1, 2, 3], '-mm')).toEqual({ 0: 'vanished' });
    expect(departures(full({ complete: false, held: 3 }), [1, 2, 3], '-mm')).toEqual({ 0: 'overwritten' });
  });

  it('is not said of what is there, or under a hole', () => {
    expect(departures(full(), [1, 2, '…', 3], 'xmcmnh')).toEqual({});
    expect(departures(full(), [1, 2], 'uuh')).toEqual({});
  });

  describe('in a ring', () => {
    const ring = (more: Partial<Download> = {}) => full({ order: 'ring', ...more });
    const slots = [{ at: 1 }, { at: 2 }, { at: 3 }];

    it('was overwritten where another was told in its slot, and deleted where that is empty', () => {
      expect(departures(ring(), slots, '-mmn', [2, 3, 1])).toEqual({ 0: 'overwritten' });
      expect(departures(ring(), slots, '-mm', [2, 3])).toEqual({ 0: 'deleted' });
      expect(departures(ring(), slots, '--mn', [3, 2])).toEqual({ 0: 'deleted', 1: 'overwritten' });
    });

    it('was overwritten where a later known one has its slot', () => {
      expect(departures(ring(), [{ at: 1 }, { at: 2 }, { at: 1 }], '-mm', [2, 5])).toEqual({ 0: 'overwritten' });
      expect(departures(ring(), [{ at: 1 }, { at: 1 }, { at: 2 }], 'm-m', [5, 2])).toEqual({ 1: 'deleted' });
      expect(departures(ring(), [{ at: 1 }, { at: 2 }], '--', [])).toEqual({ 0: 'deleted', 1: 'deleted' });
    });

    it('was overwritten also under a hole, where its slot was told again', () => {
      expect(departures(ring({ complete: false }), slots, 'uuhmn', [hole, 3, 1])).toEqual({ 0: 'overwritten' });
      expect(departures(ring({ complete: false }), [1, 2], 'uuhn', [hole, 1])).toEqual({});
    });

    it('is not shown to be deleted by another protocol or by one that broke off', () => {
      const notFull = { held: 2 };
      expect(departures(ring({ ...notFull, protocol: 'astm' }), slots, '-mm')).toEqual({ 0: 'vanished' });
      expect(departures(full(notFull), slots, '-mm')).toEqual({ 0: 'vanished' });
      expect(departures(ring({ ...notFull, complete: false }), slots, '-mm')).toEqual({ 0: 'vanished' });
      expect(departures(full(), slots, '-mmn')).toEqual({ 0: 'overwritten' });
    });
  });
});

it(`of every missing place it is said how it went, and of no other but in a ring (SEED=${SEED})`, () => {
  const known = fc.array(fc.constantFrom<Known>(1, '…', { at: 1 }, { at: 2 }), { maxLength: 6 });
  const shorts = fc.array(fc.constantFrom('missing', 'untold', 'match'), { minLength: 6, maxLength: 6 });
  fc.assert(
    fc.property(known, shorts, fc.boolean(), fc.nat(4), (items, kinds, complete, held) => {
      const steps = items.map((item, k): Step => {
        const kind = kinds[k] ?? 'match';
        if (item === '…') return { kind: 'close', known: k };
        return kind === 'match' ? { kind, known: k, claimant: 0, told: k } : ({ kind, known: k } as Step);
      });
      const one = download(9, tests(held), { capacity: 3, held, complete, order: 'ring' });
      const question = { known: standing(items), sightings: [] } as unknown as Question;
      const said = departuresOf(one, question, steps);
      for (const [k, step] of steps.entries()) {
        if (step.kind === 'missing') expect(['deleted', 'overwritten', 'vanished']).toContain(said.get(k));
        else if (typeof items[k] === 'object' && step.kind === 'untold')
          expect([undefined, 'overwritten']).toContain(said.get(k));
        else expect(said.has(k)).toBe(false);
      }
    }),
    { seed: SEED, numRuns: runsOr(300) },
  );
});
