/**
 * Limits of agreement: between which two values do the differences of most pairs lie. Bland & Altman, Lancet
 * 1986;i:307-310, with their standard errors.
 */
import { mean, standardDeviation } from '../statistics/descriptive.ts';
import { type EstimateWithError, withStudentT } from './estimate.ts';
import { decimalDifference } from './millionths.ts';
import type { XY } from './points.ts';

/** `absolute`: y − x. `percent`: of the mean of both. */
export type DifferenceKind = 'absolute' | 'percent';

/** How often the standard deviation reaches from the bias to a limit: 95 % of a normal distribution. The paper takes 2. */
const USUAL_MULTIPLE = 1.96;

export interface BlandAltman {
  readonly kind: DifferenceKind;
  readonly pairs: number;
  /** Mean difference: above 0 where the meter shows more than the laboratory. */
  readonly bias: EstimateWithError;
  readonly standardDeviation: number;
  /** Standard deviations from the bias to either limit. */
  readonly multiple: number;
  readonly lowerLimit: EstimateWithError;
  readonly upperLimit: EstimateWithError;
}

/** One pair as this picture shows it: y − x, or 100 (y − x) / mean, over the mean of both. */
export interface DifferencePoint {
  readonly mean: number;
  readonly difference: number;
}

/** Where a pair stands. */
export function differencePoint({ x, y }: XY, kind: DifferenceKind): DifferencePoint {
  const middle = (x + y) / 2;
  const difference = decimalDifference(y, x);
  return { mean: middle, difference: kind === 'absolute' ? difference : (100 * difference) / middle };
}

/**
 * Bias d̄ and limits d̄ ± multiple · s. SE(d̄) = s/√n and SE(limit) = √(3/n)·s, intervals by t with n − 1 degrees of
 * freedom, as in the paper. Needs two pairs; figures are NaN with fewer.
 */
export function blandAltman(
  pairs: readonly XY[],
  kind: DifferenceKind,
  confidence = 0.95,
  multiple = USUAL_MULTIPLE,
): BlandAltman {
  const differences = pairs.map((pair) => differencePoint(pair, kind).difference);
  const n = differences.length;
  const bias = mean(differences);
  const s = standardDeviation(differences);
  const limit = (value: number) => withStudentT(value, Math.sqrt(3 / n) * s, n - 1, confidence);
  return {
    kind,
    pairs: n,
    bias: withStudentT(bias, s / Math.sqrt(n), n - 1, confidence),
    standardDeviation: s,
    multiple,
    lowerLimit: limit(bias - multiple * s),
    upperLimit: limit(bias + multiple * s),
  };
}
