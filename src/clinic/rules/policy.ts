/** What a clinic may set of how its readings are judged. The defaults are those of the rule files beside this one. */
import { TARGETED } from '../../core/outgoing.ts';
import type { CheckScheme } from '../people/check-digit.ts';
import { HOLD_LIMITS, type HoldLimits } from './hold-limits.ts';
import { INR_CRITICAL } from './inr-limits.ts';

export interface Policy {
  /** Which check digit the clinic's patient ids have. */
  readonly idCheck: CheckScheme;
  /** An appointment proposes a person for readings made so long before or after it, minutes. */
  readonly appointmentMinutes: number;
  readonly holds: HoldLimits;
  /** Critical values, by analyte: under `low`, or at and above `high`. */
  readonly critical: Readonly<Record<string, { readonly low: number; readonly high: number }>>;
  /** Analytes that a target range is for, the first that a reading has counts. */
  readonly targeted: readonly string[];
}

export const DEFAULT_POLICY: Policy = {
  idCheck: 'none',
  appointmentMinutes: 90,
  holds: HOLD_LIMITS,
  critical: { INR: INR_CRITICAL },
  targeted: TARGETED,
};
