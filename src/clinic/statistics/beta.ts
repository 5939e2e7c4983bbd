/**
 * The beta distribution. By the continued fraction of the incomplete beta function (Abramowitz & Stegun 1964, 26.5.8,
 * from memory), held to tables and other libraries in tests/outside.
 */

import { logGamma } from './gamma.ts';
import { whereReached } from './where-reached.ts';

/** A step of the fraction that changes it by less than this ends it. */
const SMALLEST_STEP = 2e-16;
/** Stands in for zero, by which one must not divide (Thompson & Barnett). */
const TINY = 1e-300;

/** Distribution function: the regularised incomplete beta function. NaN unless a, b > 0 and x is a number. */
export function betaCdf(x: number, a: number, b: number): number {
  if (!(a > 0 && b > 0) || Number.isNaN(x)) return Number.NaN;
  return cdf(x, a, b, logBeta(a, b));
}

/** `logOfBeta` is the same for all x: whoever looks at many hands it in. */
function cdf(x: number, a: number, b: number, logOfBeta: number): number {
  if (x <= 0) return 0;
  if (x >= 1) return 1;
  const front = Math.exp(a * Math.log(x) + b * Math.log1p(-x) - logOfBeta);
  // The fraction converges fast only below the mean: above, the other tail is taken.
  return x < (a + 1) / (a + b + 2) ? (front * fraction(x, a, b)) / a : 1 - (front * fraction(1 - x, b, a)) / b;
}

/** The p-quantile, between 0 and 1. NaN for p outside 0 to 1 or where there is no such distribution. */
export function betaQuantile(p: number, a: number, b: number): number {
  if (!(p >= 0 && p <= 1 && a > 0 && b > 0)) return Number.NaN;
  if (p === 0) return 0;
  if (p === 1) return 1;
  const logOfBeta = logBeta(a, b);
  return whereReached((x) => cdf(x, a, b, logOfBeta), p, 0, 1);
}

const logBeta = (a: number, b: number): number => logGamma(a) + logGamma(b) - logGamma(a + b);

function fraction(x: number, a: number, b: number): number {
  const steer = (value: number): number => (Math.abs(value) < TINY ? TINY : value);
  let c = 1;
  let d = 1 / steer(1 - ((a + b) * x) / (a + 1));
  let value = d;
  for (let m = 1; m < 100_000; m++) {
    const even = (m * (b - m) * x) / ((a + 2 * m - 1) * (a + 2 * m));
    d = 1 / steer(1 + even * d);
    c = steer(1 + even / c);
    value *= d * c;
    const odd = (-(a + m) * (a + b + m) * x) / ((a + 2 * m) * (a + 2 * m + 1));
    d = 1 / steer(1 + odd * d);
    c = steer(1 + odd / c);
    value *= d * c;
    if (Math.abs(d * c - 1) <= SMALLEST_STEP) break;
  }
  return value;
}
