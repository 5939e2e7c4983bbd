/**
 * The estimate of Hodges & Lehmann with the interval that belongs to Wilcoxon's signed ranks: for differences that lie
 * evenly about their middle, whatever else their shape. One wild value among many hardly moves it.
 * Source: Hollander & Wolfe, Nonparametric Statistical Methods, sections 3.2 and 3.3 (from memory).
 */
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
  const sorted = differences.toSorted((a, b) => a - b);
  const count = (n * (n + 1)) / 2;
  return {
    estimate: (nthMean(sorted, Math.ceil(count / 2)) + nthMean(sorted, Math.floor(count / 2) + 1)) / 2,
    low: nthMean(sorted, cut.ranks),
    high: nthMean(sorted, count + 1 - cut.ranks),
    confidence: 1 - 2 * cut.tail,
  };
}

/**
 * The n-th smallest of the means of every two of the ordered values (each with itself too). Found by counting the means up
 * to a bound and halving, down to the last digit: thousands of values have too many means to write out.
 */
function nthMean(sorted: readonly number[], nth: number): number {
  let low = sorted[0] ?? Number.NaN;
  let high = sorted.at(-1) ?? Number.NaN;
  if (meansUpTo(sorted, low) >= nth) return low;
  for (;;) {
    const middle = low + (high - low) / 2;
    if (middle <= low || middle >= high) return high;
    if (meansUpTo(sorted, middle) >= nth) high = middle;
    else low = middle;
  }
}

/** How many of the means are at most `bound`: as the one value rises, the other has to fall. */
function meansUpTo(sorted: readonly number[], bound: number): number {
  let total = 0;
  let last = sorted.length - 1;
  for (const [first, value] of sorted.entries()) {
    while (last >= first && (value + (sorted[last] ?? 0)) / 2 > bound) last -= 1;
    if (last < first) break;
    total += last - first + 1;
  }
  return total;
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
