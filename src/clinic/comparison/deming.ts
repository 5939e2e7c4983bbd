/**
 * Deming's line: both methods err. Closed form for a known ratio of the two error variances, standard errors by the
 * jackknife: Linnet, Clinical Chemistry 1990;36:1463 and 1993;39:424 (from memory).
 */
import { standardDeviation } from '../statistics/descriptive.ts';
import { type EstimateWithError, withStudentT } from './estimate.ts';
import { type Moments, momentsOf, momentsWithout } from './moments.ts';
import type { Line, XY } from './points.ts';

export interface DemingFit {
  readonly method: 'Deming';
  /** Variance of the meter's errors over that of the laboratory's. */
  readonly delta: number;
  readonly slope: EstimateWithError;
  readonly intercept: EstimateWithError;
}

/**
 * b = [Syy − δSxx + √((Syy − δSxx)² + 4δSxy²)] / (2Sxy), a = ȳ − b x̄. Jackknife: pseudovalues n·b − (n − 1)·b₍₋ⱼ₎, SE the
 * square root of their variance over n, limits by t with n − 2 degrees of freedom. `undefined` with fewer than three
 * pairs, or where the values, all or with one left out, do not rise or fall together.
 */
export function deming(pairs: readonly XY[], delta = 1, confidence = 0.95): DemingFit | undefined {
  const n = pairs.length;
  const moments = momentsOf(pairs);
  const all = demingLine(moments, delta);
  if (!all || n < 3) return undefined;
  const leaveOneOut: Line[] = [];
  for (const pair of pairs) {
    const line = demingLine(momentsWithout(moments, pair), delta);
    if (!line) return undefined;
    leaveOneOut.push(line);
  }
  const judged = (of: (line: Line) => number): EstimateWithError =>
    withStudentT(of(all), jackknifeError(of(all), leaveOneOut.map(of)), n - 2, confidence);
  return {
    method: 'Deming',
    delta,
    slope: judged(({ slope }) => slope),
    intercept: judged(({ intercept }) => intercept),
  };
}

/** What rounding leaves in a product sum that is 0: no direction can be told from it. */
const NO_DIRECTION = 1e-12;

function demingLine({ meanX, meanY, xx, yy, xy }: Moments, delta: number): Line | undefined {
  if (!(Math.abs(xy) > NO_DIRECTION * Math.max(xx, yy))) return undefined;
  const excess = yy - delta * xx;
  const slope = (excess + Math.hypot(excess, 2 * Math.sqrt(delta) * xy)) / (2 * xy);
  return { slope, intercept: meanY - slope * meanX };
}

function jackknifeError(whole: number, leftOut: readonly number[]): number {
  const n = leftOut.length;
  return standardDeviation(leftOut.map((part) => n * whole - (n - 1) * part)) / Math.sqrt(n);
}
