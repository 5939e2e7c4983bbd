/** Which reading belongs to which laboratory value. */
import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { apart, type PersonValue, pairUp } from '../../../src/clinic/comparison/pairing.ts';
import { runsOr, seedOr } from '../../support/seed.ts';
import { at, valueAt } from './values.ts';

const SEED = seedOr(20260302);
const MINUTE = 60_000;
const ids = (pairing: ReturnType<typeof pairUp>) =>
  pairing.pairs.map(({ laboratory, reading, nearness }) => `${laboratory.id}-${reading.id} ${nearness}`);

describe('how far two moments lie apart', () => {
  it('is least where their bounds face each other and most where they do not', () => {
    expect(apart(valueAt('l', 0, 2, { within: 10 }).time, valueAt('r', 60, 2, { within: 20 }).time)).toEqual({
      bestMs: 60 * MINUTE,
      leastMs: 30 * MINUTE,
      mostMs: 90 * MINUTE,
    });
  });

  it('is at least nothing where the bounds overlap', () => {
    const between = apart(valueAt('l', 0, 2, { within: 40 }).time, valueAt('r', -30, 2, { within: 20 }).time);
    expect(between).toEqual({ bestMs: -30 * MINUTE, leastMs: 0, mostMs: 90 * MINUTE });
  });

  it('has no most where a bound is open', () => {
    expect(apart({ at: at(0), earliest: at(0), latest: at(0) }, { at: at(30), earliest: at(20) })).toEqual({
      bestMs: 30 * MINUTE,
      leastMs: 20 * MINUTE,
    });
  });
});

describe('pairing', () => {
  it('takes what lies exactly at the set time, and nothing later', () => {
    const laboratory = [valueAt('L1', 0), valueAt('L2', 0, 2.5, { patient: 'P2' })];
    const found = pairUp(laboratory, [valueAt('R1', 240), valueAt('R2', 241, 2.5, { patient: 'P2' })], 4);
    expect(ids(found)).toEqual(['L1-R1 surely']);
    expect(found.alone.map(({ id }) => id)).toEqual(['L2']);
  });

  it('pairs nobody with another person', () => {
    expect(pairUp([valueAt('L', 0)], [valueAt('R', 0, 2.5, { patient: 'P2' })], 4).pairs).toEqual([]);
  });

  it('says possibly where the bounds reach beyond the set time, and no where they cannot reach it', () => {
    const readings = (within: number) => [valueAt('R', 300, 2.5, { within })];
    expect(ids(pairUp([valueAt('L', 0)], readings(60), 4))).toEqual(['L-R possibly']);
    expect(ids(pairUp([valueAt('L', 0)], readings(59), 4))).toEqual([]);
    expect(ids(pairUp([valueAt('L', 0)], readings(Infinity), 4))).toEqual(['L-R possibly']);
  });

  it('prefers a sure reading to a nearer one whose time is open', () => {
    const readings = [valueAt('near', 5, 2.5, { within: 600 }), valueAt('sure', 120)];
    expect(ids(pairUp([valueAt('L', 0)], readings, 4))).toEqual(['L-sure surely']);
    expect(ids(pairUp([valueAt('L', 0)], readings.reverse(), 4))).toEqual(['L-sure surely']);
  });

  it('takes the first by name where all else is equal, in whatever order they come', () => {
    const [a, b, c] = ['Ra', 'Rb', 'Rc'].map((id) => valueAt(id, 60)) as [PersonValue, PersonValue, PersonValue];
    for (const readings of [
      [a, b, c],
      [c, b, a],
      [b, a, c],
      [b, c, a],
    ])
      expect(ids(pairUp([valueAt('L', 0)], readings, 4))).toEqual(['L-Ra surely']);
    const laboratory = ['Lb', 'La'].map((id) => valueAt(id, 0));
    expect(ids(pairUp(laboratory, [c, a, b], 4))).toEqual(['La-Ra surely', 'Lb-Rb surely']);
  });

  it('gives the nearest reading, before or after, and uses each once', () => {
    const laboratory = [valueAt('L1', 0), valueAt('L2', 100)];
    const readings = [valueAt('R1', -50), valueAt('R2', 90), valueAt('R3', 400)];
    expect(ids(pairUp(laboratory, readings, 4))).toEqual(['L1-R1 surely', 'L2-R2 surely']);
    expect(ids(pairUp(laboratory, [valueAt('R', 60)], 4))).toEqual(['L2-R surely']);
  });

  it('does not break a pair of minutes to win one of hours', () => {
    const laboratory = [valueAt('L1', 0), valueAt('L2', 180)];
    expect(ids(pairUp(laboratory, [valueAt('R1', -60), valueAt('R2', 5)], 4))).toEqual([
      'L1-R2 surely',
      'L2-R1 surely',
    ]);
  });

  it('marks a pair with a value beyond its measuring range', () => {
    const [pair] = pairUp([valueAt('L', 0)], [valueAt('R', 0, 8, { beyond: '>' })], 4).pairs;
    expect(pair?.isOffScale).toBe(true);
  });

  it(`leaves no value and reading apart that both would rather have each other (SEED=${SEED})`, () => {
    const moments = (prefix: string) =>
      fc
        .array(fc.record({ minute: fc.integer({ min: 0, max: 1500 }), patient: fc.constantFrom('P1', 'P2') }), {
          maxLength: 12,
        })
        .map((list) => list.map(({ minute, patient }, i) => valueAt(`${prefix}${i}`, minute, 2.5, { patient })));
    fc.assert(
      fc.property(moments('L'), moments('R'), (laboratory, readings) => {
        const { pairs, alone } = pairUp(laboratory, readings, 4);
        const distance = new Map<string, number>();
        for (const pair of pairs) {
          expect(distance.has(pair.laboratory.id) || distance.has(pair.reading.id)).toBe(false);
          expect(pair.laboratory.patient).toBe(pair.reading.patient);
          distance.set(pair.laboratory.id, Math.abs(pair.apart.bestMs));
          distance.set(pair.reading.id, Math.abs(pair.apart.bestMs));
        }
        expect(pairs.length + alone.length).toBe(laboratory.length);
        for (const l of laboratory)
          for (const r of readings) {
            if (l.patient !== r.patient) continue;
            const between = Math.abs(l.time.at - r.time.at);
            const wouldBoth = between < (distance.get(l.id) ?? Infinity) && between < (distance.get(r.id) ?? Infinity);
            expect(wouldBoth && between <= 4 * 60 * MINUTE).toBe(false);
          }
      }),
      { seed: SEED, numRuns: runsOr(300) },
    );
  });

  it(`does not depend on the order in which values are handed in (SEED=${SEED})`, () => {
    const moments = (prefix: string) =>
      fc
        .array(fc.integer({ min: 0, max: 60 }), { maxLength: 8 })
        .map((list) => list.map((tenMinutes, i) => valueAt(`${prefix}${i}`, tenMinutes * 10)));
    fc.assert(
      fc.property(moments('L'), moments('R'), (laboratory, readings) => {
        expect(ids(pairUp(laboratory.toReversed(), readings.toReversed(), 4))).toEqual(
          ids(pairUp(laboratory, readings, 4)),
        );
      }),
      { seed: SEED, numRuns: runsOr(200) },
    );
  });
});
