/**
 * Passing and Bablok's line against published examples, and against a second way: all slopes as exact fractions of whole
 * numbers, compared by cross multiplication, with no floating point before the last division.
 */
import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { cusumTest } from '../../src/clinic/comparison/cusum-test.ts';
import { passingBablok } from '../../src/clinic/comparison/passing-bablok.ts';
import { zip } from '../clinic/comparison/values.ts';
import { runsOr, seedOr } from '../support/seed.ts';

const SEED = seedOr(20260302);

describe('published examples', () => {
  // Sen, JASA 1968;63:1379; also in the tests of the R package deming (tests/pbtest). The values rise together, so that
  // Theil's and Sen's line is the same. 93 % limits are printed. (N - C)/2 is 4.47 at 93 % and 3.97 at 95 %: both round
  // to rank 4, while rounding up would give rank 5 at 93 % and the limits 3.75 and 4.18.
  it.each([0.93, 0.95])("have Sen's slope 4 (26/7 to 35/8) and intercept 6, at %d", (confidence) => {
    const fit = passingBablok(zip([1, 2, 3, 4, 10, 12, 18], [9, 15, 19, 20, 45, 55, 78]), confidence);
    expect(fit?.slope).toEqual({ value: 4, low: 26 / 7, high: 35 / 8 });
    expect(fit?.intercept.value).toBe(6);
  });

  it('have slope 1.05 and intercept 1/8 where the values scatter (tests/pbtest of the R package deming)', () => {
    const fit = passingBablok(zip([1, 2, 3, 4, 5, 6], [2, 1.2, 4.1, 3.5, 6.3, 3]));
    expect(fit?.slope.value).toBeCloseTo(1.05, 12);
    expect(fit?.intercept.value).toBeCloseTo(1 / 8, 12);
  });

  // From the tests of the Python package methcomp, which quote the R package mcr: slope 1.0050 (0.9848077 to 1.0265805),
  // intercept 0.0125. With an even number of slopes mcr counts half widths from the middle between two slopes, so that
  // each of its limits is the mean (of the angles) of the slope at our rank, 65, and of the next one inwards.
  it('have slope 1.005 and intercept 0.0125, with limits half a rank from those of mcr', () => {
    const ys = [
      1.03, 2.05, 2.79, 3.67, 5, 5.82, 7.16, 7.69, 8.53, 10.38, 11.11, 12.17, 13.47, 13.83, 15.15, 16.12,
    ].concat([16.94, 18.09, 19.13, 19.54]);
    const pairs = zip(
      ys.map((_, i) => i + 1),
      ys,
    );
    const fit = passingBablok(pairs);
    expect(fit?.slope.value).toBeCloseTo(1.005, 12);
    expect(fit?.intercept.value).toBeCloseTo(0.0125, 10);
    const slopes = exactSlopes(pairs.map(({ x, y }) => ({ x: BigInt(x * 100), y: BigInt(Math.round(y * 100)) })));
    const at = (rank: number) => toNumber(slopes[rank - 1]);
    expect([fit?.slope.low, fit?.slope.high]).toEqual([at(65), at(126)]);
    const between = (a: number, b: number) => Math.tan((Math.atan(a) + Math.atan(b)) / 2);
    expect(between(at(65), at(66))).toBeCloseTo(0.9848077, 7);
    expect(between(at(126), at(125))).toBeCloseTo(1.0265805, 7);
  });
});

/** A fraction; the denominator is above 0, or 0 with a numerator of 1 for an endless slope. */
interface Fraction {
  readonly top: bigint;
  readonly bottom: bigint;
}
const toNumber = (f: Fraction | undefined): number => (f ? Number(f.top) / Number(f.bottom) : Number.NaN);
const compareFractions = (a: Fraction, b: Fraction): number => {
  const difference = a.top * b.bottom - b.top * a.bottom;
  return difference < 0n ? -1 : difference > 0n ? 1 : 0;
};

function exactSlopes(points: readonly { x: bigint; y: bigint }[]): Fraction[] {
  const slopes: Fraction[] = [];
  points.forEach((a, i) => {
    for (const b of points.slice(i + 1)) {
      const dx = b.x - a.x;
      const dy = b.y - a.y;
      if (dx === 0n && dy === 0n) continue;
      if (dx === 0n) slopes.push({ top: 1n, bottom: 0n });
      else if (dx !== -dy) slopes.push(dx > 0n ? { top: dy, bottom: dx } : { top: -dy, bottom: -dx });
    }
  });
  return slopes.sort(compareFractions);
}

describe('a second way by exact fractions', () => {
  const tenths = fc.array(fc.tuple(fc.integer({ min: 8, max: 60 }), fc.integer({ min: -6, max: 6 })), {
    minLength: 10,
    maxLength: 30,
  });

  it(`finds the same number of slopes, shift, slope, limits and intercept (SEED=${SEED})`, () => {
    let fitted = 0;
    fc.assert(
      fc.property(tenths, (list) => {
        const whole = list.map(([x, off]) => ({ x: BigInt(x), y: BigInt(x + off) }));
        const fit = passingBablok(list.map(([x, off]) => ({ x: x / 10, y: (x + off) / 10 })));
        const slopes = exactSlopes(whole);
        const N = slopes.length;
        const K = slopes.filter(({ top, bottom }) => top < -bottom).length;
        const n = list.length;
        const C = 1.959963984540054 * Math.sqrt((n * (n - 1) * (2 * n + 5)) / 18);
        const M1 = Math.floor((N - C) / 2 + 0.5);
        const at = (rank: number) => slopes[rank - 1 + K];
        const [below, above] = [at(Math.floor((N + 1) / 2)), at(Math.floor(N / 2) + 1)];
        if (!below || !above || below.bottom === 0n || above.bottom === 0n) {
          expect(fit).toBeUndefined();
          return;
        }
        fitted++;
        expect([fit?.slopes, fit?.shift]).toEqual([N, K]);
        expect(fit?.slope.low ?? Infinity).toBe(toNumber(M1 < 1 ? { top: 1n, bottom: 0n } : at(M1)));
        const upper = M1 < 1 ? undefined : at(N - M1 + 1);
        expect(fit?.slope.high ?? Infinity).toBe(toNumber(upper ?? { top: 1n, bottom: 0n }));

        // The mean of the two in the middle, and y - b x of every pair, as fractions over one denominator.
        const b = {
          top: below.top * above.bottom + above.top * below.bottom,
          bottom: 2n * below.bottom * above.bottom,
        };
        const rest = whole.map(({ x, y }) => y * b.bottom - b.top * x).sort((p, q) => (p < q ? -1 : p > q ? 1 : 0));
        const middle = (rest[Math.floor((n - 1) / 2)] ?? 0n) + (rest[Math.floor(n / 2)] ?? 0n);
        expect(fit?.slope.value).toBeCloseTo(toNumber(b), 12);
        expect(fit?.intercept.value).toBeCloseTo(Number(middle) / Number(20n * b.bottom), 10);
      }),
      { seed: SEED, numRuns: runsOr(150) },
    );
    expect(fitted).toBeGreaterThan(runsOr(150) * 0.6);
  });

  it(`makes of the test of linearity Kolmogorov and Smirnov's distance of two samples (SEED=${SEED})`, () => {
    // √(lL / (l + L)) times the greatest distance between the two empirical distributions (Smirnov 1939, from memory),
    // counted here at every point.
    fc.assert(
      fc.property(tenths, (list) => {
        const pairs = list.map(([x, off]) => ({ x: x / 10, y: (x + off) / 10 }));
        const found = cusumTest(pairs, { slope: 1, intercept: 0 });
        // On the line y = x a foot is as good as x + y, which is whole here.
        const above = list.filter(([, off]) => off > 0).map(([x, off]) => 2 * x + off);
        const below = list.filter(([, off]) => off < 0).map(([x, off]) => 2 * x + off);
        expect([found.above, found.below]).toEqual([above.length, below.length]);
        if (above.length === 0 || below.length === 0) return;
        const share = (sample: readonly number[], upTo: number) =>
          sample.filter((v) => v <= upTo).length / sample.length;
        const distance = Math.max(...[...above, ...below].map((v) => Math.abs(share(above, v) - share(below, v))));
        const expected = Math.sqrt((above.length * below.length) / (above.length + below.length)) * distance;
        expect(found.statistic).toBeCloseTo(expected, 10);
      }),
      { seed: SEED, numRuns: runsOr(150) },
    );
  });
});
