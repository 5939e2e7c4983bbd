/** When a reading waits for a person to look: limits that a clinic may change, with where their defaults come from. */
import type { Source } from '../facts.ts';

/** The limits of `holdsOf`. */
export interface HoldLimits {
  /** A reading whose bounds lie further apart waits, hours. */
  readonly widestHours: number;
  /** Values outside are implausible, by analyte, in the unit in which it is measured. */
  readonly plausible: Readonly<Record<string, { readonly low: number; readonly high: number }>>;
  /** A value is far from the person's course where it differs from the median of the last few by more than both. */
  readonly farFromCourse: {
    readonly ratio: number;
    readonly difference: number;
    readonly days: number;
    readonly last: number;
  };
}

export const HOLD_LIMITS: HoldLimits & { readonly source: Source } = {
  widestHours: 24,
  plausible: { INR: { low: 0.5, high: 15 } },
  // The within-person variation of INR is 9 % (Thromb Res 2012;130:535): a factor of 1.8 is far outside of it.
  farFromCourse: { ratio: 1.8, difference: 1.2, days: 90, last: 3 },
  source: { name: 'tallydock hold limits', edition: '1', citation: 'common practice, no source' },
};
