/**
 * The estimate of Hodges & Lehmann with the interval that belongs to Wilcoxon's signed ranks: for differences that lie
 * evenly about their middle, whatever else their shape. One wild value among many hardly moves it.
 * Source: Hollander & Wolfe, Nonparametric Statistical Methods, sections 3.2 and 3.3 (from memory).
 */
import { median } from './descriptive.ts';
import type { Estimate } from './intervals.ts';
import { normalQuantile } from './normal.ts';

/** Up to here the ranks are counted out; beyond, the normal approximation errs by far less than the data. */
const COUNTED_UP_TO = 100;

/**
 * Median of all means of two differences (each with itself too), with the narrowest symmetrical interval whose
 * confidence is at least the one asked for; `confidence` is the one reached. Undefined where no interval of so few
 * differences reaches it: for 95 % that is below six. Tied differences make the interval wider than it need be, never
 * too narrow.
 */
export function hodgesLehmann(differences: readonly number[], confidence: number): Estimate | undefined {
  const n = differences.length;
  const cut = ranksToCut(n, (1 - confidence) / 2);
  if (cut === undefined) return undefined;
  const means = walshMeans(differences);
  return {
    estimate: median(means),
    low: means[cut.ranks - 1] ?? Number.NaN,
    high: means[means.length - cut.ranks] ?? Number.NaN,
    confidence: 1 - 2 * cut.tail,
  };
}

/** Means of every two of the differences, in order. */
function walshMeans(differences: readonly number[]): number[] {
  const means: number[] = [];
  for (const [i, a] of differences.entries()) for (const b of differences.slice(i)) means.push((a + b) / 2);
  return means.sort((a, b) => a - b);
}

/** Which of the means from either end is the limit: the greatest k with P(T ≤ k − 1) ≤ tail, T the signed rank sum. */
function ranksToCut(n: number, tail: number): { readonly ranks: number; readonly tail: number } | undefined {
  if (n > COUNTED_UP_TO) {
    const spread = Math.sqrt((n * (n + 1) * (2 * n + 1)) / 24);
    const ranks = Math.floor((n * (n + 1)) / 4 + normalQuantile(tail) * spread);
    return { ranks, tail };
  }
  const chances = signedRankChances(n);
  let ranks = 0;
  let below = 0;
  while (below + (chances[ranks] ?? 1) <= tail) {
    below += chances[ranks] ?? 1;
    ranks += 1;
  }
  return ranks === 0 ? undefined : { ranks, tail: below };
}

/** Probability of each signed rank sum 0 … n(n+1)/2 where either sign is as likely: rank after rank is added. */
export function signedRankChances(n: number): number[] {
  let chances = [1];
  for (let rank = 1; rank <= n; rank++) {
    const next = new Array<number>(chances.length + rank).fill(0);
    for (const [sum, chance] of chances.entries()) {
      next[sum] = (next[sum] ?? 0) + chance / 2;
      next[sum + rank] = (next[sum + rank] ?? 0) + chance / 2;
    }
    chances = next;
  }
  return chances;
}
