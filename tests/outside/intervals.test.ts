/** Intervals of confidence against published examples and tables; figures from memory unless said otherwise. */
import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { median } from '../../src/clinic/statistics/descriptive.ts';
import { meanInterval, welchInterval } from '../../src/clinic/statistics/intervals.ts';
import { exactShare } from '../../src/clinic/statistics/proportion.ts';
import { hodgesLehmann, signedRankChances } from '../../src/clinic/statistics/signed-rank.ts';
import { seedOr } from '../support/seed.ts';

// Student, Biometrika 1908;6:1, hours of sleep gained with two drugs; shipped with R as `sleep`, whose help page tests it.
const FIRST = [0.7, -1.6, -0.2, -1.2, -0.1, 3.4, 3.7, 0.8, 0, 2];
const SECOND = [1.9, 0.8, 1.1, 0.1, -0.1, 4.4, 5.5, 1.6, 4.6, 3.4];

describe("Student's data on sleep", () => {
  it("gives R's interval of Welch: −0.2054832 to 3.3654832 on 17.776 degrees of freedom", () => {
    const shift = welchInterval(FIRST, SECOND, 0.95);
    expect(shift?.estimate).toBeCloseTo(1.58, 12);
    expect(shift?.low).toBeCloseTo(-0.2054832, 7);
    expect(shift?.high).toBeCloseTo(3.3654832, 7);
    expect(shift?.df).toBeCloseTo(17.776, 3);
  });

  it("gives R's paired interval: 0.7001142 to 2.4598858", () => {
    const shift = meanInterval(
      SECOND.map((v, i) => v - (FIRST[i] ?? Number.NaN)),
      0.95,
    );
    expect(shift?.low).toBeCloseTo(0.7001142, 7);
    expect(shift?.high).toBeCloseTo(2.4598858, 7);
  });
});

describe('shares', () => {
  it("gives R's exact interval for 682 of 925 (help page of binom.test): 0.7076683 to 0.7654066", () => {
    const share = exactShare(682, 925, 0.95);
    expect(share?.low).toBeCloseTo(0.7076683, 7);
    expect(share?.high).toBeCloseTo(0.7654066, 7);
  });

  // Newcombe, Statistics in Medicine 1998;17:857, table I: method 5 (exact).
  it.each([
    [81, 263, '0.2527', '0.3676'],
    [15, 148, '0.0578', '0.1617'],
    [0, 20, '0.0000', '0.1684'],
    [1, 29, '0.0009', '0.1776'],
  ])('gives the limits that Newcombe prints for %s of %s', (hits, tries, ...printed) => {
    const exact = exactShare(hits, tries, 0.95);
    expect([exact?.low, exact?.high].map((v) => v?.toFixed(4))).toEqual(printed);
  });

  it('gives the closed form where nothing or all was hit', () => {
    expect(exactShare(0, 7, 0.95)?.high).toBeCloseTo(1 - 0.025 ** (1 / 7), 14);
    expect(exactShare(7, 7, 0.95)?.low).toBeCloseTo(0.025 ** (1 / 7), 14);
    expect(exactShare(7, 7, 0.95)?.high).toBe(1);
    expect([exactShare(0, 0, 0.95), exactShare(3, 2, 0.95), exactShare(0.5, 2, 0.95)]).toEqual([
      undefined,
      undefined,
      undefined,
    ]);
  });
});

describe('signed ranks', () => {
  // Critical values at 5 %, two-sided, as in every handbook (Wilcoxon 1945 and later tables).
  it.each([
    [6, 0],
    [7, 2],
    [8, 3],
    [9, 5],
    [10, 8],
    [12, 13],
    [15, 25],
    [20, 52],
    [25, 89],
    [30, 137],
  ])('has the printed critical value for %s differences: %s', (n, critical) => {
    const chances = signedRankChances(n);
    const atMost = (t: number): number => chances.slice(0, t + 1).reduce((a, b) => a + b, 0);
    expect(atMost(critical)).toBeLessThanOrEqual(0.025);
    expect(atMost(critical + 1)).toBeGreaterThan(0.025);
    expect(atMost(chances.length)).toBeCloseTo(1, 12);
  });

  it('gives the estimate and limits that Hollander & Wolfe print for the depression scores: −0.46, −0.786 to −0.010 at 96.1 %', () => {
    const before = [1.83, 0.5, 1.62, 2.48, 1.68, 1.88, 1.55, 3.06, 1.3];
    const after = [0.878, 0.647, 0.598, 2.05, 1.06, 1.29, 1.06, 3.14, 1.29];
    const shift = hodgesLehmann(
      after.map((v, i) => v - (before[i] ?? Number.NaN)),
      0.95,
    );
    expect(shift?.estimate).toBeCloseTo(-0.46, 12);
    expect(shift?.low).toBeCloseTo(-0.786, 12);
    expect(shift?.high).toBeCloseTo(-0.01, 12);
    expect(shift?.confidence).toBeCloseTo(1 - 20 / 512, 12);
  });

  const seed = seedOr(518);
  it(`finds the same means as writing all of them out and sorting (SEED=${seed})`, () => {
    const value = fc.oneof(fc.integer({ min: -9, max: 9 }), fc.double({ min: -3, max: 3, noNaN: true }));
    fc.assert(
      fc.property(fc.array(value, { minLength: 6, maxLength: 25 }), (list) => {
        const means = list.flatMap((a, i) => list.slice(i).map((b) => (a + b) / 2)).sort((a, b) => a - b);
        const shift = hodgesLehmann(list, 0.95);
        const chances = signedRankChances(list.length);
        let [ranks, below] = [0, 0];
        while (below + (chances[ranks] ?? 1) <= (1 - 0.95) / 2) below += chances[ranks++] ?? 1;
        // Adding 0 makes one zero of the two that doubles have.
        const limits = [shift?.low, shift?.high].map((v) => (v ?? Number.NaN) + 0);
        expect(limits).toEqual([means[ranks - 1], means[means.length - ranks]].map((v) => (v ?? Number.NaN) + 0));
        expect(shift?.estimate).toBeCloseTo(median(means), 12);
      }),
      { seed },
    );
  });

  it('has no interval at 95 % for five differences, and the whole range for six', () => {
    expect(hodgesLehmann([1, 2, 3, 4, 5], 0.95)).toBeUndefined();
    expect(hodgesLehmann([], 0.95)).toBeUndefined();
    expect(hodgesLehmann([1, 2, 3, 4, 5, 9], 0.95)).toMatchObject({ low: 1, high: 9, confidence: 1 - 2 / 64 });
  });

  it('goes over into the normal approximation without a step', () => {
    const list = (n: number): number[] => Array.from({ length: n }, (_, i) => ((i * 37) % 101) / 10 - 4.7);
    const [counted, approximate] = [hodgesLehmann(list(100), 0.95), hodgesLehmann(list(101), 0.95)];
    expect(Math.abs((counted?.low ?? 0) - (approximate?.low ?? 9))).toBeLessThan(0.1);
    expect(Math.abs((counted?.high ?? 0) - (approximate?.high ?? 9))).toBeLessThan(0.1);
  });
});
