/** What a comparison is made by: figures that a clinic may change, each with its source, and the defaults. */
import type { AgreementRule } from '../rules/agreement-rule.ts';
import {
  agreementRulesFor,
  CONFIDENCE,
  ENOUGH_PAIRS,
  ERROR_RATIO,
  FEWEST_PAIRS,
  type Habit,
  INR_REPORT_BANDS,
  OUT_AND_APART,
  PAIR_WITHIN_HOURS,
  type ReportBands,
  WHOLE_RANGE,
} from '../rules/comparison-habits.ts';

export interface ComparisonSettings {
  /** The most time between the two values of a pair, hours. */
  readonly withinHours: Habit<number>;
  /** Which pairs are reckoned with: those that surely lie within that time, or those too that possibly do. */
  readonly judge: 'sure' | 'possible';
  /** Fewer pairs are shown and not judged; fewer than `enoughPairs` with a caution. */
  readonly fewestPairs: Habit<number>;
  readonly enoughPairs: Habit<number>;
  readonly bands: Habit<ReportBands>;
  readonly rules: readonly AgreementRule[];
  /** From which difference on two values that are both out of range disagree; without it that is not looked at. */
  readonly outAndApart?: Habit<number>;
  /** Variance of the meter's errors over that of the laboratory's. */
  readonly errorRatio: Habit<number>;
  /** Of all intervals, two-sided. */
  readonly confidence: Habit<number>;
}

/** The defaults for an analyte in a unit. */
export const usualSettings = (analyte: string, unit: string): ComparisonSettings => ({
  withinHours: PAIR_WITHIN_HOURS,
  judge: 'sure',
  fewestPairs: FEWEST_PAIRS,
  enoughPairs: ENOUGH_PAIRS,
  bands: analyte === 'INR' ? INR_REPORT_BANDS : WHOLE_RANGE,
  rules: agreementRulesFor(analyte, unit),
  ...(analyte === 'INR' ? { outAndApart: OUT_AND_APART } : {}),
  errorRatio: ERROR_RATIO,
  confidence: CONFIDENCE,
});
