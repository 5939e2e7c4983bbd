/** What can be said of a share, such as failed tests among all tests: its interval of confidence, and its chance. */
import { betaCdf, betaQuantile } from './beta.ts';
import type { Estimate } from './intervals.ts';

/**
 * The exact interval of Clopper & Pearson (Biometrika 1934;26:404) by the beta distribution: never covers less than it
 * says, often more. Undefined where nothing was tried.
 */
export function exactShare(hits: number, tries: number, confidence: number): Estimate | undefined {
  if (!isShare(hits, tries)) return undefined;
  const tail = (1 - confidence) / 2;
  return {
    estimate: hits / tries,
    low: hits === 0 ? 0 : betaQuantile(tail, hits, tries - hits + 1),
    high: hits === tries ? 1 : betaQuantile(1 - tail, hits + 1, tries - hits),
    confidence,
  };
}

/** Probability of at least so many hits in so many tries, by the incomplete beta function (Abramowitz & Stegun 26.5.24, from memory). */
export function chanceOfAtLeast(hits: number, tries: number, rate: number): number {
  if (hits <= 0) return 1;
  return hits > tries ? 0 : betaCdf(rate, hits, tries - hits + 1);
}

const isShare = (hits: number, tries: number): boolean =>
  Number.isInteger(hits) && Number.isInteger(tries) && tries > 0 && hits >= 0 && hits <= tries;
