/** Means and sums of squares about them of paired values: what both Deming's line and the correlation are made of. */
import { mean } from '../statistics/descriptive.ts';
import type { XY } from './points.ts';

export interface Moments {
  readonly pairs: number;
  readonly meanX: number;
  readonly meanY: number;
  /** Σ(x − x̄)², Σ(y − ȳ)², Σ(x − x̄)(y − ȳ). */
  readonly xx: number;
  readonly yy: number;
  readonly xy: number;
}

/** The moments of all pairs. */
export function momentsOf(pairs: readonly XY[]): Moments {
  const meanX = mean(pairs.map(({ x }) => x));
  const meanY = mean(pairs.map(({ y }) => y));
  let xx = 0;
  let yy = 0;
  let xy = 0;
  for (const pair of pairs) {
    xx += (pair.x - meanX) ** 2;
    yy += (pair.y - meanY) ** 2;
    xy += (pair.x - meanX) * (pair.y - meanY);
  }
  return { pairs: pairs.length, meanX, meanY, xx, yy, xy };
}

/** The moments with one pair left out: each sum loses n/(n − 1) of that pair's product about the old means. */
export function momentsWithout({ pairs, meanX, meanY, xx, yy, xy }: Moments, { x, y }: XY): Moments {
  const dx = x - meanX;
  const dy = y - meanY;
  const share = pairs / (pairs - 1);
  return {
    pairs: pairs - 1,
    meanX: meanX - dx / (pairs - 1),
    meanY: meanY - dy / (pairs - 1),
    xx: xx - share * dx * dx,
    yy: yy - share * dy * dy,
    xy: xy - share * dx * dy,
  };
}

/**
 * Pearson's r. It tells how widely the values spread beside how much they scatter, and nothing of whether two methods
 * agree (Bland & Altman 1986). NaN where one side does not vary.
 */
export const correlation = ({ xx, yy, xy }: Moments): number => xy / Math.sqrt(xx * yy);
