/**
 * Do the pairs bend away from the line? Walking along it, points above and below must alternate as by chance: the test
 * of linearity of Passing & Bablok 1983 (from memory). With these scores it is Kolmogorov and Smirnov's test of whether
 * the points above and those below lie alike along the line; hence the root of the number of both, which some copies of
 * the paper print as the root of L + 1.
 */
import type { Line, XY } from './points.ts';

/** Asymptotic critical values of Kolmogorov and Smirnov at 5 % and 1 %: Smirnov 1948 (from memory). */
const AT_5_PERCENT = 1.36;
const AT_1_PERCENT = 1.63;

export interface CusumTest {
  /** Points above, below and on the line. */
  readonly above: number;
  readonly below: number;
  readonly on: number;
  /** max |cusum| / √(above + below), to be held against 1.36 (5 %) and 1.63 (1 %). Absent without points on both sides. */
  readonly statistic?: number;
  /** What it says of a straight line: `fits` up to the 5 % value, `doubtful` above it, `bends` above the 1 % value. */
  readonly verdict: 'fits' | 'doubtful' | 'bends' | 'not judged';
}

/** Residuals up to this are on the line: what decimals of six places leave behind when a line is laid through a point. */
const ON_THE_LINE = 1e-9;

/**
 * Scores √(L/l) for each of the l points above, −√(l/L) for each of the L below, 0 on the line, summed in order of the
 * points' feet on the line. Points with one foot are taken together, so that their order does not matter.
 */
export function cusumTest(pairs: readonly XY[], { slope, intercept }: Line): CusumTest {
  const sides = pairs.map(({ x, y }) => {
    const residual = y - (intercept + slope * x);
    return { side: Math.abs(residual) <= ON_THE_LINE ? 0 : Math.sign(residual), foot: x + slope * y };
  });
  const above = sides.filter(({ side }) => side > 0).length;
  const below = sides.filter(({ side }) => side < 0).length;
  const counts = { above, below, on: pairs.length - above - below };
  if (above === 0 || below === 0) return { ...counts, verdict: 'not judged' };

  sides.sort((a, b) => a.foot - b.foot);
  // The sum of scores is (L·passed above − l·passed below) / √(l·L): counted whole, rounding does not depend on the order.
  let sum = 0;
  let most = 0;
  sides.forEach(({ side, foot }, i) => {
    if (side > 0) sum += below;
    else if (side < 0) sum -= above;
    const next = sides[i + 1];
    if (!next || next.foot - foot > ON_THE_LINE) most = Math.max(most, Math.abs(sum));
  });
  const statistic = most / Math.sqrt(above * below * (above + below));
  const verdict = statistic > AT_1_PERCENT ? 'bends' : statistic > AT_5_PERCENT ? 'doubtful' : 'fits';
  return { ...counts, statistic, verdict };
}
