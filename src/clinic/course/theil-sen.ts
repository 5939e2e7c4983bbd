/**
 * A robust straight line through points: Theil's median of all slopes with Sen's limits (Sen, J Am Stat Assoc
 * 1968;63:1379), which a few wild values do not move. The ranks of the limits come from the normal approximation and are
 * rounded to the wider ones, so that they hold for few points too; points at one moment make no slope, and Sen's variance
 * allows for them (from memory).
 */
import { median } from '../statistics/descriptive.ts';
import { normalQuantile } from '../statistics/normal.ts';

export interface XY {
  readonly x: number;
  readonly y: number;
}

export interface Slope {
  readonly slope: number;
  /** Median of y − slope · x. */
  readonly intercept: number;
  /** Limits of the slope; absent where there are too few points for this confidence. */
  readonly limits?: { readonly low: number; readonly high: number };
}

/** The line, or undefined where no two points differ in x. Confidence from 0 to 1. */
export function theilSen(points: readonly XY[], confidence: number): Slope | undefined {
  const slopes = slopesOf(points);
  const count = slopes.length;
  if (count === 0) return undefined;
  const slope = ((slopes[(count - 1) >> 1] ?? 0) + (slopes[count >> 1] ?? 0)) / 2;
  const spread = normalQuantile((1 + confidence) / 2) * Math.sqrt(variance(points));
  const rank = Math.floor((count - spread) / 2);
  const [low, high] = [slopes[rank - 1], slopes[count - rank]];
  return {
    slope,
    intercept: median(points.map(({ x, y }) => y - slope * x)),
    ...(rank >= 1 && low !== undefined && high !== undefined && { limits: { low, high } }),
  };
}

function slopesOf(points: readonly XY[]): Float64Array {
  const slopes = new Float64Array((points.length * (points.length - 1)) / 2);
  let count = 0;
  points.forEach((b, i) => {
    for (let j = 0; j < i; j++) {
      const a = points[j];
      if (a && a.x !== b.x) slopes[count++] = (b.y - a.y) / (b.x - a.x);
    }
  });
  return slopes.subarray(0, count).sort();
}

/** Variance of Kendall's score where there is no slope, less what points at the same x take from it. */
function variance(points: readonly XY[]): number {
  const sizes = new Map<number, number>();
  for (const { x } of points) sizes.set(x, (sizes.get(x) ?? 0) + 1);
  const of = (n: number): number => (n * (n - 1) * (2 * n + 5)) / 18;
  return [...sizes.values()].reduce((rest, size) => rest - of(size), of(points.length));
}
