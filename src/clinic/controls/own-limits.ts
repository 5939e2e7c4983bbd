/** Limits from a clinic's own control values, once there are enough of them. */
import type { LocalDate } from '../facts.ts';
import type { ControlHabits } from '../rules/control-habits.ts';
import { mean, standardDeviation } from '../statistics/descriptive.ts';
import type { ControlReading } from './control-reading.ts';
import { type ControlLevel, type ControlLimits, statedLimits } from './level.ts';

/** Which limits to take, from how many values and days, and why. */
export interface ChosenLimits {
  readonly limits: ControlLimits;
  readonly values: number;
  readonly days: number;
  readonly sentence: string;
}

/**
 * Mean and standard deviation of the values of one control material where they are enough, come from enough days and are
 * not all alike; else the stated limits. Hand in only values that were made while nothing was wrong: whoever leaves the
 * failed ones in widens the limits until nothing fails. Values off the measuring range are left out.
 */
export function chooseLimits(
  level: ControlLevel,
  readings: readonly ControlReading[],
  habits: ControlHabits,
  localDate: LocalDate,
): ChosenLimits {
  const used = readings.filter((r) => r.beyond === undefined);
  const values = used.length;
  const days = new Set(used.map((r) => localDate(r.time.at))).size;
  const sd = standardDeviation(used.map((r) => r.value));
  const { ownLimitsValues, ownLimitsDays } = habits;
  const have = `${values} values from ${days} days`;
  if (values >= ownLimitsValues && days >= ownLimitsDays && sd > 0) {
    const limits: ControlLimits = { mean: mean(used.map((r) => r.value)), sd, basis: 'own' };
    return { limits, values, days, sentence: `Own limits, from ${have}.` };
  }
  const need =
    values >= ownLimitsValues && days >= ownLimitsDays
      ? 'all are alike, so they have no spread'
      : `own limits need ${ownLimitsValues} values from ${ownLimitsDays} days`;
  return { limits: statedLimits(level), values, days, sentence: `The stated limits: there are ${have}, and ${need}.` };
}
