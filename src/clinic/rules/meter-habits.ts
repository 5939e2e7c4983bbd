/** Habits of looking after meters that a clinic may change, with their sources. */
import type { Source } from '../facts.ts';

/** What is expected of meters. */
export interface MeterHabits {
  /** A meter's pace is taken from the tests of so many days. */
  readonly paceDays: number;
  /** How sure the cautious day of a forecast is not too late, 0 to 1. */
  readonly confidence: number;
  /** Taken for the memory of a meter that does not tell it; absent: no forecast for such meters. */
  readonly assumedCapacity?: number;
  /** So many power losses … */
  readonly batteryLosses: number;
  /** … within so many days mean batteries that keep dying. */
  readonly batteryDays: number;
  /** A meter without a plan of its own is not seen for long after so many days. */
  readonly notSeenDays: number;
  /** A clock that gains or loses more a day is broken or was changed by hand, seconds. */
  readonly greatestDriftSecondsPerDay: number;
  readonly source: Source;
}

export const METER_HABITS: MeterHabits = {
  paceDays: 90,
  confidence: 0.95,
  assumedCapacity: 200,
  batteryLosses: 2,
  batteryDays: 90,
  notSeenDays: 62,
  // A watch crystal errs by up to 100 ppm, 8.6 s a day, in the cold and with all its tolerances.
  greatestDriftSecondsPerDay: 10,
  source: { name: 'tallydock meter habits', edition: '1', citation: 'common practice, no source' },
};
