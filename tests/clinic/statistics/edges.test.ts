/** What the figures are at the ends of their ranges, and that there is none outside. By their definitions. */
import { describe, expect, it } from 'vitest';
import { betaCdf, betaQuantile } from '../../../src/clinic/statistics/beta.ts';
import { mean, quantile, standardDeviation } from '../../../src/clinic/statistics/descriptive.ts';
import { gammaQ, logGamma } from '../../../src/clinic/statistics/gamma.ts';
import { welchInterval } from '../../../src/clinic/statistics/intervals.ts';
import { normalQuantile } from '../../../src/clinic/statistics/normal.ts';
import { exactShare } from '../../../src/clinic/statistics/proportion.ts';
import { hodgesLehmann, signedRankChances } from '../../../src/clinic/statistics/signed-rank.ts';
import { studentTCdf, studentTQuantile } from '../../../src/clinic/statistics/student-t.ts';

describe('the beta distribution', () => {
  it('is 0 before its range and 1 behind it', () => {
    expect([-0.5, 0, 1, 1.5].map((x) => betaCdf(x, 2, 3))).toEqual([0, 0, 1, 1]);
    expect([0, 1].map((p) => betaQuantile(p, 2, 3))).toEqual([0, 1]);
  });

  it('does not exist without two numbers above 0, nor quantiles outside of 0 to 1', () => {
    for (const [a, b] of [
      [0, 2],
      [-1, 2],
      [2, 0],
      [2, -1],
    ] as const) {
      expect([0, 0.5, 1].map((x) => betaCdf(x, a, b))).toEqual([Number.NaN, Number.NaN, Number.NaN]);
      expect([0, 0.5, 1].map((p) => betaQuantile(p, a, b))).toEqual([Number.NaN, Number.NaN, Number.NaN]);
    }
    expect([-0.1, 1.1, Number.NaN].map((p) => betaQuantile(p, 2, 3))).toEqual([Number.NaN, Number.NaN, Number.NaN]);
    expect(betaCdf(Number.NaN, 2, 3)).toBeNaN();
  });
});

describe('the gamma function', () => {
  it('is without end where its argument is', () => {
    expect(logGamma(Number.POSITIVE_INFINITY)).toBe(Number.POSITIVE_INFINITY);
    expect([0, Number.POSITIVE_INFINITY].map((x) => gammaQ(2, x))).toEqual([1, 0]);
  });

  it('does not exist for arguments that are not above 0', () => {
    for (const a of [0, -1, Number.NaN])
      expect([0, 1, Number.POSITIVE_INFINITY].map((x) => gammaQ(a, x))).toEqual([Number.NaN, Number.NaN, Number.NaN]);
    expect([0, -1].map(logGamma)).toEqual([Number.NaN, Number.NaN]);
    expect(gammaQ(2, -1)).toBeNaN();
  });
});

describe('mean, spread and quantile', () => {
  it('of ten tenths is a tenth', () => {
    expect(mean(Array.from({ length: 10 }, () => 0.1))).toBe(0.1);
  });

  it('are no figure without values; one value has no spread', () => {
    expect([mean([]), standardDeviation([]), standardDeviation([5]), quantile([], 0.5)]).toEqual(
      Array(4).fill(Number.NaN),
    );
  });

  it('reach from the least to the greatest value and no further', () => {
    expect([0, 1].map((p) => quantile([3, 1, 2], p))).toEqual([1, 3]);
    expect([-1, -0.1, 1.1, 2, Number.NaN].map((p) => quantile([5], p))).toEqual(Array(5).fill(Number.NaN));
  });
});

describe('the normal distribution and Student’s', () => {
  it('have no ends', () => {
    expect([0, 1].map(normalQuantile)).toEqual([Number.NEGATIVE_INFINITY, Number.POSITIVE_INFINITY]);
    expect([0, 1].map((p) => studentTQuantile(p, 5))).toEqual([Number.NEGATIVE_INFINITY, Number.POSITIVE_INFINITY]);
    for (const p of [-0.1, 1.1]) expect([normalQuantile(p), studentTQuantile(p, 5)]).toEqual([Number.NaN, Number.NaN]);
  });

  it('have their middle at 0, and keep all digits beside it', () => {
    expect(normalQuantile(0.5)).toBe(0);
    expect(studentTQuantile(0.5, 5)).toBe(0);
    // Density at 0 with 5 degrees of freedom: 8/(3√5·π).
    const t = 1e-10;
    expect(Math.abs((studentTCdf(t, 5) - 0.5) / t / (8 / (3 * Math.sqrt(5) * Math.PI)) - 1)).toBeLessThan(1e-5);
    // With one degree it is Cauchy's: tan π(p − ½).
    const beside = 2 ** -40;
    expect(Math.abs(studentTQuantile(0.5 - beside, 1) / -Math.tan(Math.PI * beside) - 1)).toBeLessThan(1e-12);
  });

  it('Student’s does not exist without degrees of freedom', () => {
    for (const df of [0, -1]) {
      expect([-1, 0, 1].map((t) => studentTCdf(t, df))).toEqual(Array(3).fill(Number.NaN));
      expect([0, 0.25, 0.5, 1].map((p) => studentTQuantile(p, df))).toEqual(Array(4).fill(Number.NaN));
    }
  });
});

describe('Welch’s interval', () => {
  it('needs two values on either side', () => {
    expect(welchInterval([1], [1, 2], 0.95)).toBeUndefined();
    expect(welchInterval([1, 2], [1], 0.95)).toBeUndefined();
    // Variances of the means 1/4 each: (1/2)² / (1/16 + 1/16) = 2 degrees, as many as of Student's own.
    expect(welchInterval([1, 2], [3, 4], 0.95)).toMatchObject({ estimate: 2, df: 2 });
    // Variances of the means 4/4 and 9/9, of four and of nine values: 2² / (1/3 + 1/8).
    expect(welchInterval([-3, 1, 1, 1], [6, -6, 0, 0, 0, 0, 0, 0, 0], 0.95)?.df).toBeCloseTo(96 / 11, 12);
  });

  it('has no width where nothing varies', () => {
    const none = { estimate: 1, low: 1, high: 1, confidence: 0.95, df: 3 };
    expect(welchInterval([2, 2], [3, 3, 3], 0.95)).toEqual(none);
    expect(welchInterval([2, 2, 2], [3, 3], 0.95)).toEqual(none);
  });
});

describe('the share', () => {
  it('does not exist without tries, nor of more hits than tries or fewer than none', () => {
    for (const [hits, tries] of [
      [0, 0],
      [-1, 5],
      [6, 5],
      [0.5, 5],
      [1, 2.5],
    ] as const)
      expect(exactShare(hits, tries, 0.95)).toBeUndefined();
  });
});

describe('the estimate of Hodges and Lehmann', () => {
  const upTo = (n: number): number[] => Array.from({ length: n }, (_, i) => i + 1);

  it('reaches a confidence that is just what so many differences can give', () => {
    // Six signs are all alike with 2 in 64.
    expect(hodgesLehmann(upTo(6), 1 - 2 / 64)).toEqual({ estimate: 3.5, low: 1, high: 6, confidence: 1 - 2 / 64 });
    expect(hodgesLehmann(upTo(6), 0.97)).toBeUndefined();
  });

  it('is counted out for a hundred differences, and told by the normal curve for more: two ranks wider at most, never narrower', () => {
    const counted = hodgesLehmann(upTo(100), 0.95);
    expect(counted?.confidence).toBeGreaterThan(0.95);
    expect(counted?.confidence).toBeLessThan(0.9503);
    for (const n of [101, 140]) {
      // No two of their means are the same, so that each has a rank of its own.
      const differences = upTo(n).map((i) => i ** 1.5);
      const found = hodgesLehmann(differences, 0.95);
      expect(found?.confidence).toBe(0.95);
      // By the definition: the greatest k with P(T ≤ k − 1) ≤ 0.025, and the k-th of all means of two from either end.
      const chances = signedRankChances(n);
      let [k, below] = [0, chances[0] ?? 1];
      while (below <= 0.025) below += chances[++k] ?? 1;
      const means = differences.flatMap((a, i) => differences.slice(i).map((b) => (a + b) / 2)).sort((a, b) => a - b);
      expect(new Set(means).size).toBe((n * (n + 1)) / 2);
      const rank = means.indexOf(found?.low ?? 0) + 1;
      expect(rank).toBeLessThanOrEqual(k);
      expect(rank).toBeGreaterThanOrEqual(k - 2);
      expect(means.indexOf(found?.high ?? 0)).toBe(means.length - rank);
    }
  });
});
