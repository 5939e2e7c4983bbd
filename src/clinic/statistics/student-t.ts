/**
 * Student's t distribution, for any degrees of freedom above 0 (whole or not, as Welch's are). By the beta distribution:
 * Abramowitz & Stegun 1964, 26.7.1 with 26.5 (from memory).
 */
import { betaCdf, betaQuantile } from './beta.ts';

/** Probability of at most t. NaN unless df > 0. */
export function studentTCdf(t: number, df: number): number {
  if (!(df > 0)) return Number.NaN;
  const square = t * t;
  // Whichever tail of the beta distribution is the smaller one keeps its digits.
  const beyond =
    square < df ? 1 - betaCdf(square / (df + square), 0.5, df / 2) : betaCdf(df / (df + square), df / 2, 0.5);
  return t > 0 ? 1 - beyond / 2 : beyond / 2;
}

/** The p-quantile. Minus and plus infinity at p = 0 and 1; NaN for p outside or df not above 0. */
export function studentTQuantile(p: number, df: number): number {
  if (!(p >= 0 && p <= 1 && df > 0)) return Number.NaN;
  if (p > 0.5) return -studentTQuantile(1 - p, df);
  if (p === 0.5) return 0;
  if (p < 0.25) {
    const x = betaQuantile(2 * p, df / 2, 0.5);
    return -Math.sqrt((df * (1 - x)) / x);
  }
  const y = betaQuantile(1 - 2 * p, 0.5, df / 2);
  return -Math.sqrt((df * y) / (1 - y));
}
