/**
 * The robust line against Sen's own example (J Am Stat Assoc 1968;63:1379-1389), whose figures were read in the tests of
 * the R package `deming`: slope 4, limits at 93 % 26/7 and 35/8. The intercept of 6 was reckoned from the same data.
 */
import { describe, expect, it } from 'vitest';
import { theilSen } from '../../src/clinic/course/theil-sen.ts';

const SEN = [
  [1, 9],
  [2, 15],
  [3, 19],
  [4, 20],
  [10, 45],
  [12, 55],
  [18, 78],
].map(([x = 0, y = 0]) => ({ x, y }));

describe("Sen's example", () => {
  it('has the slope 4 and the intercept 6', () => {
    expect(theilSen(SEN, 0.93)).toMatchObject({ slope: 4, intercept: 6 });
  });

  it('has the limits 26/7 and 35/8 at 93 %', () => {
    const limits = theilSen(SEN, 0.93)?.limits;
    expect(limits?.low).toBeCloseTo(26 / 7, 14);
    expect(limits?.high).toBeCloseTo(35 / 8, 14);
  });

  it('does not depend on the order of the points', () => {
    expect(theilSen(SEN.toReversed(), 0.93)).toEqual(theilSen(SEN, 0.93));
  });
});

describe('limits for few points', () => {
  /** Number of orders of n things with each number of inversions: Knuth, The Art of Computer Programming 3, 5.1.1. */
  function inversions(n: number): number[] {
    let counts = [1];
    for (let k = 2; k <= n; k++) {
      const next = Array<number>(counts.length + k - 1).fill(0);
      counts.forEach((count, i) => {
        for (let j = 0; j < k; j++) next[i + j] = (next[i + j] ?? 0) + count;
      });
      counts = next;
    }
    return counts;
  }

  it.each([6, 7, 8, 9, 10, 14, 20, 26])('of %d cover at least 95 % by the exact distribution of Kendall', (n) => {
    // Points on slopes that are all different, so that the rank of a limit can be read off.
    const points = Array.from({ length: n }, (_, i) => ({ x: i, y: 2 ** i }));
    const slopes = points
      .flatMap((b, i) => points.slice(0, i).map((a) => (b.y - a.y) / (b.x - a.x)))
      .sort((a, b) => a - b);
    const low = theilSen(points, 0.95)?.limits?.low;
    if (low === undefined) throw new Error('no limits');
    const rank = slopes.lastIndexOf(low) + 1;
    expect(rank).toBeGreaterThan(0);
    const counts = inversions(n);
    const all = counts.reduce((sum, count) => sum + count, 0);
    const beyond = counts.slice(0, rank).reduce((sum, count) => sum + count, 0);
    expect(beyond / all).toBeLessThanOrEqual(0.025);
  });
});
