/**
 * Passing and Bablok's line: the shifted median of the slopes of all lines through two points; no assumption on how
 * either method errs, and outliers do not pull it. Passing & Bablok, J Clin Chem Clin Biochem 1983;21:709-720 (from memory).
 */
import { median } from '../statistics/descriptive.ts';
import { normalQuantile } from '../statistics/normal.ts';
import { type CusumTest, cusumTest } from './cusum-test.ts';
import type { Estimate } from './estimate.ts';
import { millionths } from './millionths.ts';
import type { XY } from './points.ts';

/** All slopes are held at once: 12.5 million, 100 MB. A longer list of pairs is not fitted. */
export const PASSING_BABLOK_MOST_PAIRS = 5000;

export interface PassingBablokFit {
  readonly method: 'Passing-Bablok 1983';
  readonly slope: Estimate;
  readonly intercept: Estimate;
  /** Slopes that were counted (N), and how many of them lie below −1 (K, the shift of the median). */
  readonly slopes: number;
  readonly shift: number;
  /** Whether a straight line fits at all. */
  readonly linearity: CusumTest;
}

/**
 * Fits the line. Equal pairs give no slope and slopes of exactly −1 are left out; pairs with equal x give an endless
 * slope (taken as +∞: with −∞ the shift would grow by one, and pick the same). Limits of the slope stand at the ranks
 * M1 = (N − C)/2, rounded to the nearest, and M2 = N − M1 + 1, C = z·√(n(n−1)(2n+5)/18); those of the intercept follow
 * from them. To the nearest is what the paper says and what the continuity correction of Kendall's score asks for: the
 * largest rank whose tail, from N − 2·M1 + 1 on, is no more than half of what the confidence leaves. A limit is absent
 * where its rank does not exist or its slope is endless. `undefined` where no slope is found in the middle (fewer than
 * two different pairs; values that do not rise together), and above `PASSING_BABLOK_MOST_PAIRS`.
 */
export function passingBablok(pairs: readonly XY[], confidence = 0.95): PassingBablokFit | undefined {
  const n = pairs.length;
  if (n > PASSING_BABLOK_MOST_PAIRS) return undefined;
  const slopes = sortedSlopes(pairs);
  const N = slopes.length;
  const K = slopes.findIndex((slope) => slope >= -1);
  if (K < 0) return undefined;
  /** By rank, from 1; shifted. */
  const ranked = (rank: number): number | undefined => finite(rank < 1 ? undefined : slopes[rank - 1 + K]);

  const below = ranked(Math.ceil(N / 2));
  const above = ranked(Math.floor(N / 2) + 1);
  if (below === undefined || above === undefined) return undefined;
  const slope = (below + above) / 2;

  const C = normalQuantile((1 + confidence) / 2) * Math.sqrt((n * (n - 1) * (2 * n + 5)) / 18);
  const M1 = Math.round((N - C) / 2);
  const low = ranked(M1);
  const high = M1 < 1 ? undefined : ranked(N - M1 + 1);
  const interceptFor = (b: number | undefined) =>
    b === undefined ? undefined : median(pairs.map(({ x, y }) => y - b * x));
  const intercept = median(pairs.map(({ x, y }) => y - slope * x));
  return {
    method: 'Passing-Bablok 1983',
    slope: estimate(slope, low, high),
    intercept: estimate(intercept, interceptFor(high), interceptFor(low)),
    slopes: N,
    shift: K,
    linearity: cusumTest(pairs, { slope, intercept }),
  };
}

/** Whole numbers throughout: equal slopes come out equal, and −1 is exactly −1. */
function sortedSlopes(pairs: readonly XY[]): Float64Array {
  const n = pairs.length;
  const xs = Float64Array.from(pairs, ({ x }) => millionths(x));
  const ys = Float64Array.from(pairs, ({ y }) => millionths(y));
  const slopes = new Float64Array((n * (n - 1)) / 2);
  let count = 0;
  for (let i = 0; i < n; i++) {
    for (let j = i + 1; j < n; j++) {
      const dx = (xs[j] ?? 0) - (xs[i] ?? 0);
      const dy = (ys[j] ?? 0) - (ys[i] ?? 0);
      if ((dx === 0 && dy === 0) || dx === -dy) continue;
      slopes[count++] = dx === 0 ? Infinity : dy / dx;
    }
  }
  return slopes.subarray(0, count).sort();
}

const finite = (slope: number | undefined): number | undefined =>
  slope !== undefined && Number.isFinite(slope) ? slope : undefined;

const estimate = (value: number, low: number | undefined, high: number | undefined): Estimate => ({
  value,
  ...(low === undefined ? {} : { low }),
  ...(high === undefined ? {} : { high }),
});
