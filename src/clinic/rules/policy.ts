/** What a clinic may set of how its readings are judged. The defaults are those of the rule files beside this one. */
import type { CheckScheme } from '../people/check-digit.ts';
import { HOLD_LIMITS, type HoldLimits } from './hold-limits.ts';

export interface Policy {
  /** Which check digit the clinic's patient ids have. */
  readonly idCheck: CheckScheme;
  /** An appointment proposes a person for readings made so long before or after it, minutes. */
  readonly appointmentMinutes: number;
  readonly holds: HoldLimits;
  /** Values at or beyond which the clinic's critical procedure begins, by analyte. */
  readonly critical: Readonly<Record<string, { readonly low: number; readonly high: number }>>;
  /** Analytes that a target range is for, the first that a reading has counts. */
  readonly targeted: readonly string[];
}

export const DEFAULT_POLICY: Policy = {
  idCheck: 'none',
  appointmentMinutes: 90,
  holds: HOLD_LIMITS,
  // Critical INR in laboratories is usually 5.0 (Clin Biochem 2015;48:483); the lower limit is that of NICE NG196's reassessment.
  critical: { INR: { low: 1.5, high: 5 } },
  targeted: ['INR'],
};
