/**
 * The distributions against figures and programs from outside. Three ways: printed tables (Abramowitz & Stegun,
 * Handbook of Mathematical Functions, 1964, tables 26.1, 26.8, 26.9, 26.10, and every handbook since; the figures here
 * are from memory), the libraries jstat 1.9.6 and simple-statistics 7.12.1, and exact whole-number arithmetic where a
 * distribution is a finite sum.
 */
import { createRequire } from 'node:module';
import * as simple from 'simple-statistics';
import { describe, expect, it } from 'vitest';
import { betaCdf, betaQuantile } from '../../src/clinic/statistics/beta.ts';
import { mean, median, quantile, standardDeviation } from '../../src/clinic/statistics/descriptive.ts';
import { gammaQ, logGamma } from '../../src/clinic/statistics/gamma.ts';
import { normalCdf, normalQuantile } from '../../src/clinic/statistics/normal.ts';
import { studentTCdf, studentTQuantile } from '../../src/clinic/statistics/student-t.ts';

interface JStat {
  readonly beta: { cdf(x: number, a: number, b: number): number };
  readonly gamma: { cdf(x: number, shape: number, scale: number): number };
  readonly normal: { cdf(x: number, mean: number, sd: number): number };
  readonly studentt: { cdf(x: number, df: number): number };
  gammaln(x: number): number;
}
const { jStat } = createRequire(import.meta.url)('jstat') as { jStat: JStat };

/** Equal but for rounding: relative to the figure, or to 1 where it is small. */
const near = (got: number, wanted: number, within: number): void =>
  expect(Math.abs(got - wanted), `${got} for ${wanted}`).toBeLessThanOrEqual(within * Math.max(1, Math.abs(wanted)));

const PROBABILITIES = [1e-6, 0.001, 0.025, 0.1, 0.3, 0.499, 0.5, 0.7, 0.95, 0.975, 0.9999];

describe('printed tables', () => {
  it.each([
    [0.75, '0.6745'],
    [0.9, '1.2816'],
    [0.95, '1.6449'],
    [0.975, '1.9600'],
    [0.99, '2.3263'],
    [0.995, '2.5758'],
    [0.9995, '3.2905'],
  ])('gives the normal quantile of %s as %s', (p, printed) => {
    expect(normalQuantile(p).toFixed(4)).toBe(printed);
    expect(normalQuantile(1 - p).toFixed(4)).toBe(`-${printed}`);
  });

  it.each([
    [1, '6.314', '12.706', '63.657'],
    [2, '2.920', '4.303', '9.925'],
    [3, '2.353', '3.182', '5.841'],
    [5, '2.015', '2.571', '4.032'],
    [10, '1.812', '2.228', '3.169'],
    [20, '1.725', '2.086', '2.845'],
    [30, '1.697', '2.042', '2.750'],
    [60, '1.671', '2.000', '2.660'],
    [120, '1.658', '1.980', '2.617'],
  ])('gives the t quantiles of %s degrees of freedom', (df, p95, p975, p995) => {
    expect(studentTQuantile(0.95, df).toFixed(3)).toBe(p95);
    expect(studentTQuantile(0.975, df).toFixed(3)).toBe(p975);
    expect(studentTQuantile(0.995, df).toFixed(3)).toBe(p995);
  });

  it.each([
    [1, '0.004', '3.841'],
    [2, '0.103', '5.991'],
    [5, '1.145', '11.070'],
    [10, '3.940', '18.307'],
    [30, '18.493', '43.773'],
  ])(
    'reaches 5 and 95 % of chi-square with %s degrees of freedom where printed, by the incomplete gamma function',
    (df, p5, p95) => {
      for (const [share, printed] of [
        [0.05, Number(p5)],
        [0.95, Number(p95)],
      ] as const) {
        expect(gammaQ(df / 2, (printed - 0.0005) / 2)).toBeGreaterThan(1 - share);
        expect(gammaQ(df / 2, (printed + 0.0005) / 2)).toBeLessThan(1 - share);
      }
    },
  );

  it.each([
    [1, 10, '4.96'],
    [5, 10, '3.33'],
    [10, 20, '2.35'],
    [2, 30, '3.32'],
  ])('gives the upper 5% point of F with %s and %s degrees of freedom, by the beta distribution', (m, n, printed) => {
    const x = betaQuantile(0.95, m / 2, n / 2);
    expect(((n * x) / (m * (1 - x))).toFixed(2)).toBe(printed);
  });
});

describe('other programs', () => {
  it('agrees with jstat, which ends its beta fraction (so its t too) when a step changes it by less than 3e-7', () => {
    for (const x of [-6, -2.5, -1, -0.1, 0, 0.5, 1.96, 4]) {
      near(normalCdf(x), jStat.normal.cdf(x, 0, 1), 1e-9);
      for (const df of [1, 2, 3.7, 9, 40, 300]) near(studentTCdf(x, df), jStat.studentt.cdf(x, df), 3e-7);
    }
    for (const x of [0.01, 0.2, 0.5, 0.83, 0.99])
      for (const [a, b] of [
        [0.5, 0.5],
        [1, 3],
        [8, 2.5],
        [40, 60],
      ] as const)
        near(betaCdf(x, a, b), jStat.beta.cdf(x, a, b), 3e-7);
    for (const x of [0.01, 1, 4, 30]) {
      near(logGamma(x), jStat.gammaln(x), 1e-9);
      for (const shape of [0.5, 1, 3.3, 25]) near(1 - gammaQ(shape, 2 * x), jStat.gamma.cdf(x, shape, 0.5), 1e-9);
    }
  });

  it('agrees with simple-statistics on lists of numbers, and on its table of the normal distribution', () => {
    const values = [2.4, 3.1, 2.2, 2.9, 3.8, 2.6, 2.6, 1.9];
    near(mean(values), simple.mean(values), 1e-14);
    near(standardDeviation(values), simple.sampleStandardDeviation(values), 1e-14);
    near(median(values), simple.median(values), 1e-14);
    for (const z of [-3, -1.64, -0.5, 0, 0.7, 2.2]) near(normalCdf(z), simple.cumulativeStdNormalProbability(z), 1e-4);
  });

  it('takes quantiles as R does by default (its help page: quantile(1:10, 0.33) is 3.97; from memory)', () => {
    near(quantile([1, 2, 3, 4, 5, 6, 7, 8, 9, 10], 0.33), 3.97, 1e-14);
    near(quantile([10, 1, 9, 2, 8, 3, 7, 4, 6, 5], 0.25), 3.25, 1e-14);
  });
});

describe('exact arithmetic', () => {
  const choose = (n: number, k: number): bigint => {
    let ways = 1n;
    for (let i = 0; i < k; i++) ways = (ways * BigInt(n - i)) / BigInt(i + 1);
    return ways;
  };

  it('gives the beta distribution with whole parameters as the binomial sum that it is', () => {
    for (const [a, n] of [
      [1, 1],
      [2, 9],
      [7, 20],
      [40, 60],
      [99, 100],
    ] as const) {
      for (const tenths of [1, 3, 5, 9]) {
        let sum = 0n;
        for (let k = a; k <= n; k++)
          sum += choose(n, k) * BigInt(tenths) ** BigInt(k) * BigInt(10 - tenths) ** BigInt(n - k);
        const exact = Number((sum * 10n ** 30n) / 10n ** BigInt(n)) / 1e30;
        near(betaCdf(tenths / 10, a, n - a + 1), exact, 2e-14);
      }
    }
  });

  it('gives the incomplete gamma function with a whole shape as the Poisson sum that it is', () => {
    for (const shape of [1, 2, 5, 12]) {
      for (const x of [0.5, 3, 10, 40]) {
        let term = Math.exp(-x);
        let tail = term;
        for (let k = 1; k < shape; k++) {
          term *= x / k;
          tail += term;
        }
        near(gammaQ(shape, x) / tail, 1, 2e-13);
      }
    }
  });

  it('gives t with 1 and with 2 degrees of freedom by their closed forms', () => {
    for (const p of PROBABILITIES) {
      near(studentTQuantile(p, 1), Math.tan(Math.PI * (p - 0.5)), 1e-9);
      near(studentTQuantile(p, 2), (2 * p - 1) / Math.sqrt(2 * p * (1 - p)), 1e-12);
    }
  });

  it('comes back to the probability from every quantile', () => {
    for (const p of PROBABILITIES) {
      near(normalCdf(normalQuantile(p)) / p, 1, 1e-13);
      for (const df of [0.7, 1, 4.4, 30, 1000]) near(studentTCdf(studentTQuantile(p, df), df) / p, 1, 1e-10);
      for (const [a, b] of [
        [0.5, 0.5],
        [3, 8],
        [200, 40],
      ] as const)
        near(betaCdf(betaQuantile(p, a, b), a, b) / p, 1, 1e-12);
    }
    near(normalCdf(normalQuantile(1e-300)) / 1e-300, 1, 1e-12);
  });

  it('has whole factorials where the gamma function has them', () => {
    let factorial = 1;
    for (let n = 1; n <= 25; n++) {
      near(logGamma(n), Math.log(factorial), 1e-14);
      factorial *= n;
    }
    near(logGamma(0.5), Math.log(Math.PI) / 2, 1e-14);
  });

  it('says NaN where a question has no answer', () => {
    for (const value of [
      normalQuantile(-0.1),
      normalQuantile(Number.NaN),
      studentTQuantile(0.5, 0),
      studentTCdf(1, -1),
      betaQuantile(2, 1, 1),
      betaCdf(0.5, 0, 1),
      gammaQ(1, -1),
      gammaQ(-1, 1),
      logGamma(0),
      mean([]),
      median([]),
      standardDeviation([1]),
      quantile([1, 2], 1.5),
    ])
      expect(value).toBeNaN();
    expect(normalCdf(Number.NEGATIVE_INFINITY)).toBe(0);
    expect(normalCdf(Number.POSITIVE_INFINITY)).toBe(1);
    expect(normalQuantile(0)).toBe(Number.NEGATIVE_INFINITY);
  });
});
