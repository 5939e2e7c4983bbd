/**
 * Would the two values have been judged differently against the person's target range? One in range and the other out,
 * or both out and far apart (JAMA letter, `OUT_AND_APART`). It says that they disagree, never what to do.
 */
import { type Position, positionOf, type Shown } from '../course/standing.ts';
import type { Target } from '../facts.ts';
import { decimalDifference } from './millionths.ts';

/** What a pair says about a decision; `unknown` where an off-scale value leaves it open. */
export type DecisionAgreement = 'agree' | 'one in, one out' | 'both out and apart' | 'unknown' | 'no target';

/**
 * Compares both values with the target, limits inclusive. Off-scale values count by what they surely are: `>8.0` is above
 * a range that ends at 3.0, whatever it is.
 */
export function decisionAgreement(
  laboratory: Shown,
  reading: Shown,
  target: Pick<Target, 'low' | 'high'> | undefined,
  apartAtLeast: number,
): DecisionAgreement {
  if (!target) return 'no target';
  const sides = [sideOf(laboratory, target), sideOf(reading, target)];
  const [one, other] = sides;
  if (one === undefined || other === undefined) return 'unknown';
  if (one === 'in' && other === 'in') return 'agree';
  if (one === 'in' || other === 'in') return 'one in, one out';
  if (
    Math.abs(decimalDifference(reading.value, laboratory.value)) >= apartAtLeast &&
    isAtLeastAsShown(laboratory, reading)
  )
    return 'both out and apart';
  return laboratory.beyond || reading.beyond ? 'unknown' : 'agree';
}

/** Where a value surely lies; undefined where that is open. */
function sideOf(shown: Shown, range: Pick<Target, 'low' | 'high'>): Position | undefined {
  const { place, isCertain } = positionOf(shown, range);
  return isCertain ? place : undefined;
}

/** Whether the true values lie at least as far apart as those shown: what is off scale lies away from the other. */
function isAtLeastAsShown(a: Shown, b: Shown): boolean {
  const [lower, higher] = a.value <= b.value ? [a, b] : [b, a];
  return lower.beyond !== '>' && higher.beyond !== '<';
}
