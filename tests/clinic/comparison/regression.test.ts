/** What the two lines promise whatever the data: properties, ties and the cases in which there is no line. */
import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { blandAltman } from '../../../src/clinic/comparison/bland-altman.ts';
import { cusumTest } from '../../../src/clinic/comparison/cusum-test.ts';
import { deming } from '../../../src/clinic/comparison/deming.ts';
import { correlation, momentsOf, momentsWithout } from '../../../src/clinic/comparison/moments.ts';
import { PASSING_BABLOK_MOST_PAIRS, passingBablok } from '../../../src/clinic/comparison/passing-bablok.ts';
import { runsOr, seedOr } from '../../support/seed.ts';
import { zip } from './values.ts';

const SEED = seedOr(20260302);
const OPTIONS = { seed: SEED, numRuns: runsOr(200) };
const tenths = fc.integer({ min: 8, max: 80 }).map((n) => n / 10);
/** A meter that follows the laboratory within 0.7, in tenths: many ties, as INR has. */
const pair = fc
  .tuple(tenths, fc.integer({ min: -7, max: 7 }))
  .map(([x, off]) => ({ x, y: Math.round(x * 10 + off) / 10 }));
const pairs = fc.array(pair, { minLength: 10, maxLength: 40 });
const swapped = (list: readonly { x: number; y: number }[]) => list.map(({ x, y }) => ({ x: y, y: x }));
const near = (a: number | undefined, b: number | undefined) => expect(a).toBeCloseTo(b ?? Number.NaN, 9);

describe("Passing and Bablok's line", () => {
  it(`turns its limits, and its slope where one slope is in the middle, when the methods change places (SEED=${SEED})`, () => {
    let turned = 0;
    fc.assert(
      fc.property(pairs, (list) => {
        const there = passingBablok(list);
        const back = passingBablok(swapped(list));
        if (!there || !back || there.slope.low === undefined || there.slope.high === undefined) return;
        if (there.slope.low <= 0) return; // a limit of 0 turns into an endless one
        turned++;
        expect(back.slopes).toBe(there.slopes);
        near(back.slope.low, 1 / there.slope.high);
        near(back.slope.high, 1 / there.slope.low);
        if (there.slopes % 2 === 1) near(back.slope.value, 1 / there.slope.value);
      }),
      OPTIONS,
    );
    expect(turned).toBeGreaterThan(OPTIONS.numRuns / 2);
  });

  it(`does not depend on the order of the pairs (SEED=${SEED})`, () => {
    fc.assert(
      fc.property(
        pairs.chain((list) => fc.tuple(fc.constant(list), fc.shuffledSubarray(list, { minLength: list.length }))),
        ([list, shuffled]) => {
          expect(passingBablok(shuffled)).toEqual(passingBablok(list));
        },
      ),
      OPTIONS,
    );
  });

  it(`keeps its slope in another unit, and moves its intercept with the meter's zero (SEED=${SEED})`, () => {
    fc.assert(
      fc.property(pairs, fc.integer({ min: 2, max: 50 }), (list, factor) => {
        const plain = passingBablok(list);
        const larger = passingBablok(list.map(({ x, y }) => ({ x: x * factor, y: y * factor })));
        const shifted = passingBablok(list.map(({ x, y }) => ({ x, y: y + factor })));
        expect(larger?.slope).toEqual(plain?.slope);
        expect(shifted?.slope).toEqual(plain?.slope);
        if (!plain) return;
        near(larger?.intercept.value, plain.intercept.value * factor);
        near(shifted?.intercept.value, plain.intercept.value + factor);
      }),
      OPTIONS,
    );
  });

  it(`has its estimates between their limits (SEED=${SEED})`, () => {
    fc.assert(
      fc.property(pairs, (list) => {
        const fit = passingBablok(list);
        if (!fit) return;
        for (const { value, low, high } of [fit.slope, fit.intercept]) {
          expect(low ?? -Infinity).toBeLessThanOrEqual(value + 1e-9);
          expect(high ?? Infinity).toBeGreaterThanOrEqual(value - 1e-9);
        }
      }),
      OPTIONS,
    );
  });

  it('is the line on which all pairs lie', () => {
    const fit = passingBablok(zip([1.1, 2.2, 3.3, 4.4, 5.5], [1.6, 2.7, 3.8, 4.9, 6.0]));
    expect(fit?.slope.value).toBe(1);
    expect(fit?.intercept.value).toBeCloseTo(0.5, 12);
    expect(fit?.linearity).toEqual({ above: 0, below: 0, on: 5, verdict: 'not judged' });
  });

  it('leaves out slopes that are −1 in decimals, though not in binary', () => {
    // (3.1 - 2.9) / (1.8 - 2.0) is -1.0000000000000013 in binary.
    expect((3.1 - 2.9) / (1.8 - 2.0)).not.toBe(-1);
    const fit = passingBablok([
      { x: 1.8, y: 3.1 },
      { x: 2.0, y: 2.9 },
      { x: 4.0, y: 5.0 },
    ]);
    expect([fit?.slopes, fit?.shift]).toEqual([2, 0]);
  });

  it('counts pairs of one laboratory value as endless slopes and equal pairs not at all', () => {
    const fit = passingBablok(zip([1, 1, 1, 2, 3], [1, 1, 2, 2, 3]));
    // By hand, of ten: one equal; two endless; 1, 1, 1, 1, 1 from the three on the diagonal; 0 and 1/2 from (1, 2).
    expect(fit?.slopes).toBe(9);
    expect(fit?.slope.value).toBe(1);
  });

  it('sets no limits where there are too few pairs for the confidence', () => {
    expect(passingBablok(zip([1, 2, 3], [1, 2.1, 3]))?.slope).toEqual({ value: 1 });
  });

  it.each([
    ['no pairs', zip([], [])],
    ['one pair', zip([1], [1])],
    ['equal pairs only', zip([1, 1, 1], [2, 2, 2])],
    ['one laboratory value', zip([2, 2, 2], [1, 2, 3])],
    ['values that fall together more steeply than −1', zip([1, 2, 3], [9, 5, 1])],
  ])('is not laid through %s', (_what, list) => {
    expect(passingBablok(list)).toBeUndefined();
  });

  it('is not laid through more pairs than are kept in memory', () => {
    const list = Array.from({ length: PASSING_BABLOK_MOST_PAIRS + 1 }, (_, i) => ({ x: i, y: i }));
    expect(passingBablok(list)).toBeUndefined();
  });
});

describe('the test of linearity', () => {
  const LINE = { slope: 1, intercept: 0 };
  const sides = (word: string) => [...word].map((c, i) => ({ x: i, y: i + ({ '+': 0.25, '-': -0.25 }[c] ?? 0) }));

  it('fits where points lie above and below in turns', () => {
    expect(cusumTest(sides('+-'.repeat(20)), LINE).verdict).toBe('fits');
  });

  it('sees points that lie above in the middle and below at both ends', () => {
    // By hand: cusum falls to -10, rises to +10, so 10 / sqrt(40) = 1.58; and twice that length 20 / sqrt(80) = 2.24.
    const bent = (n: number) => cusumTest(sides('-'.repeat(n) + '+'.repeat(2 * n) + '-'.repeat(n)), LINE);
    expect(bent(10).statistic).toBeCloseTo(10 / Math.sqrt(40), 12);
    expect(bent(10).verdict).toBe('doubtful');
    expect(bent(20).verdict).toBe('bends');
  });

  it('counts points on the line apart and does not judge one side alone', () => {
    expect(cusumTest(sides('+0+0'), LINE)).toEqual({ above: 2, below: 0, on: 2, verdict: 'not judged' });
  });

  it('is not moved by the order of two points with one foot', () => {
    const one = { x: 1, y: 1.5 };
    const other = { x: 1.5, y: 1 };
    expect(cusumTest([one, other], LINE)).toEqual(cusumTest([other, one], LINE));
    expect(cusumTest([one, other], LINE).statistic).toBe(0);
  });
});

describe("Deming's line", () => {
  it(`turns when the methods change places and the error ratio with them (SEED=${SEED})`, () => {
    fc.assert(
      fc.property(pairs, fc.constantFrom(0.25, 1, 3), (list, delta) => {
        const there = deming(list, delta);
        const back = deming(swapped(list), 1 / delta);
        expect(back === undefined).toBe(there === undefined);
        if (!there || !back) return;
        expect(back.slope.value * there.slope.value).toBeCloseTo(1, 8);
      }),
      OPTIONS,
    );
  });

  it(`leaves one out by taking it off the sums as well as by starting anew (SEED=${SEED})`, () => {
    fc.assert(
      fc.property(pairs, (list) => {
        const [first, ...rest] = list;
        if (!first) return;
        const short = momentsWithout(momentsOf(list), first);
        const anew = momentsOf(rest);
        for (const key of ['pairs', 'meanX', 'meanY', 'xx', 'yy', 'xy'] as const)
          expect(Math.abs(short[key] - anew[key])).toBeLessThan(1e-9);
      }),
      OPTIONS,
    );
  });

  it('is the line on which all pairs lie, with no error', () => {
    const fit = deming(zip([1, 2, 3, 4], [3, 5, 7, 9]));
    expect(fit?.slope.value).toBeCloseTo(2, 12);
    expect(fit?.intercept.value).toBeCloseTo(1, 12);
    expect(fit?.slope.standardError).toBeCloseTo(0, 12);
  });

  it.each([
    ['two pairs', zip([1, 2], [1, 2])],
    ['one laboratory value', zip([2.1, 2.1, 2.1], [1, 2, 3])],
    ['one meter value', zip([1, 2, 3], [2.1, 2.1, 2.1])],
    ['values without a direction', zip([1, 2, 1, 2], [1, 1, 2, 2])],
    ['a direction that hangs on one pair', zip([1, 2, 1, 2, 9], [1, 1, 2, 2, 9])],
  ])('is not laid through %s', (_what, list) => {
    expect(deming(list)).toBeUndefined();
  });
});

describe('limits of agreement', () => {
  it(`move with the meter's zero and stay as wide (SEED=${SEED})`, () => {
    fc.assert(
      fc.property(pairs, fc.integer({ min: 1, max: 20 }), (list, shift) => {
        const plain = blandAltman(list, 'absolute');
        const moved = blandAltman(
          list.map(({ x, y }) => ({ x, y: y + shift })),
          'absolute',
        );
        for (const key of ['bias', 'lowerLimit', 'upperLimit'] as const) {
          near(moved[key].value, plain[key].value + shift);
          near(moved[key].standardError, plain[key].standardError);
        }
      }),
      OPTIONS,
    );
  });

  it('in percent are of the mean of both values', () => {
    const { bias } = blandAltman(zip([2, 4], [3, 4]), 'percent');
    expect(bias.value).toBeCloseTo((100 * (1 / 2.5) + 0) / 2, 12);
  });
});

describe('the correlation', () => {
  it('is 1 for a meter that shows twice the value: it says nothing of agreement', () => {
    expect(correlation(momentsOf(zip([1, 2, 3], [2, 4, 6])))).toBeCloseTo(1, 12);
  });

  it('is no number where one side does not vary', () => {
    expect(correlation(momentsOf(zip([2, 2], [1, 3])))).toBeNaN();
  });
});
