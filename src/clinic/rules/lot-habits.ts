/** Habits of the comparison of strip lots and of error rates that a clinic may change, with their sources. */
import type { Source } from '../facts.ts';

/** How strip lots are compared. */
export interface LotHabits {
  /** A person's values count up to so many days before and after the change of lot. */
  readonly windowDays: number;
  /** Of these the nearest so many on either side. */
  readonly nearest: number;
  /** Below so many people or control values on either side a figure is shown with a caution. */
  readonly cautionBelow: number;
  /** Confidence of the intervals, 0 to 1. */
  readonly confidence: number;
  readonly source: Source;
}

export const LOT_HABITS: LotHabits = {
  windowDays: 56,
  nearest: 3,
  cautionBelow: 20,
  confidence: 0.95,
  source: { name: 'tallydock lot comparison', edition: '1', citation: 'common practice, no source' },
};
