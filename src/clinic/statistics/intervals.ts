/** Intervals of confidence for a mean and for the difference of two means. */
import { mean, standardDeviation } from './descriptive.ts';
import { studentTQuantile } from './student-t.ts';

/** An estimate with the interval that covers the truth with the probability `confidence`. */
export interface Estimate {
  readonly estimate: number;
  readonly low: number;
  readonly high: number;
  /** Between 0 and 1. For exact methods this much at least. */
  readonly confidence: number;
}

/** Mean with its t interval: exact where the values are normal. Undefined for fewer than two values. */
export function meanInterval(values: readonly number[], confidence: number): Estimate | undefined {
  if (values.length < 2) return undefined;
  const error = standardDeviation(values) / Math.sqrt(values.length);
  return around(mean(values), error, values.length - 1, confidence);
}

/**
 * Mean of `after` minus mean of `before`, with Welch's interval, which does not take the spreads for equal
 * (Welch, Biometrika 1947;34:28; degrees of freedom by Satterthwaite; both from memory). Undefined where either list has
 * fewer than two values.
 */
export function welchInterval(
  before: readonly number[],
  after: readonly number[],
  confidence: number,
): (Estimate & { readonly df: number }) | undefined {
  if (before.length < 2 || after.length < 2) return undefined;
  const a = standardDeviation(before) ** 2 / before.length;
  const b = standardDeviation(after) ** 2 / after.length;
  // Without any spread the formula has no value, and the interval no width: any degrees of freedom do.
  const df =
    a + b === 0
      ? before.length + after.length - 2
      : (a + b) ** 2 / (a ** 2 / (before.length - 1) + b ** 2 / (after.length - 1));
  return { ...around(mean(after) - mean(before), Math.sqrt(a + b), df, confidence), df };
}

function around(estimate: number, error: number, df: number, confidence: number): Estimate {
  const reach = studentTQuantile((1 + confidence) / 2, df) * error;
  return { estimate, low: estimate - reach, high: estimate + reach, confidence };
}
