/** A figure reckoned from a sample, with the interval that shows how well the sample tells it. */
import { studentTQuantile } from '../statistics/student-t.ts';

/** An estimate between confidence limits; a limit is absent where the sample sets none. */
export interface Estimate {
  readonly value: number;
  readonly low?: number;
  readonly high?: number;
}

/** An estimate whose limits come from its standard error. */
export interface EstimateWithError extends Required<Estimate> {
  readonly standardError: number;
}

/** value ± t·SE, t of Student's distribution with so many degrees of freedom. `confidence` is two-sided, such as 0.95. */
export function withStudentT(value: number, standardError: number, df: number, confidence: number): EstimateWithError {
  const reach = studentTQuantile((1 + confidence) / 2, df) * standardError;
  return { value, standardError, low: value - reach, high: value + reach };
}
