/** Habits of the control arithmetic that a clinic may change, with where their defaults come from. */
import type { Source } from '../facts.ts';

/** What counts as one run, and when own limits may take the place of printed ones. */
export interface ControlHabits {
  /** Controls of a meter and strip lot belong to one run if measured within so many minutes of its first. */
  readonly runMinutes: number;
  /** Own limits need at least so many values … */
  readonly ownLimitsValues: number;
  /** … from at least so many days. */
  readonly ownLimitsDays: number;
  readonly source: Source;
}

export const CONTROL_HABITS: ControlHabits = {
  runMinutes: 60,
  ownLimitsValues: 20,
  ownLimitsDays: 10,
  source: {
    name: 'tallydock control habits',
    edition: '1',
    citation: 'length of a run: common practice, no source; 20 values over 10 days: from memory',
  },
};
