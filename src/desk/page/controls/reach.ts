/** An axis that holds all values, with a little room on either side. Pure. */
import type { Span } from '../parts/chart/zoom.ts';

/** From the least to the greatest; of a single number a little around it. */
export function reach(values: readonly number[]): Span {
  const [low, high] = [Math.min(...values), Math.max(...values)];
  const room = (high - low || Math.abs(high) || 1) * 0.08;
  return { min: low - room, max: high + room };
}
