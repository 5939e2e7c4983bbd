/** Control materials and control tests for the tests of this folder: invented, with round numbers. */

import { type ControlPractice, type JudgedControl, judgeControls } from '../../../src/clinic/controls/assess.ts';
import type { ControlReading } from '../../../src/clinic/controls/control-reading.ts';
import type { ControlLevel } from '../../../src/clinic/controls/level.ts';
import { MULTIRULE } from '../../../src/clinic/rules/multirule.ts';
import { instant } from '../../../src/core/instant.ts';

export const HOUR = 3_600_000;
const _DAY = 24 * HOUR;
export const START = Date.parse('2026-03-02T08:00:00Z');

export const LOW: ControlLevel = {
  lot: 'K1',
  level: '1',
  analyte: 'INR',
  kind: 'liquid',
  limits: { mean: 100, sd: 10 },
};
export const HIGH: ControlLevel = {
  lot: 'K1',
  level: '2',
  analyte: 'INR',
  kind: 'liquid',
  limits: { mean: 400, sd: 20 },
};
export const CHIP: ControlLevel = {
  lot: 'E1',
  level: 'chip',
  analyte: 'INR',
  kind: 'electronic',
  limits: { low: 90, high: 110, rangeSd: 2 },
};

export const PRACTICE: ControlPractice = {
  rules: MULTIRULE,
  runMinutes: 60,
  localDate: (at) => new Date(at).toISOString().slice(0, 10),
};

/** A control test `hours` after the start, `z` standard deviations from the mean of its level. */
export function control(
  id: string,
  level: ControlLevel,
  z: number,
  hours: number,
  more: Partial<ControlReading> = {},
): ControlReading {
  const limits = level.limits;
  const [mean, sd] =
    'mean' in limits
      ? [limits.mean, limits.sd]
      : [(limits.low + limits.high) / 2, (limits.high - limits.low) / (2 * limits.rangeSd)];
  return {
    id,
    meter: 'M1',
    analyte: level.analyte,
    stripLot: 'S1',
    controlLot: level.lot,
    level: level.level,
    value: mean + z * sd,
    time: { at: instant(START + hours * HOUR) },
    ...more,
  };
}

export const judge = (
  readings: readonly ControlReading[],
  levels = [LOW, HIGH, CHIP],
  practice = PRACTICE,
): readonly JudgedControl[] => judgeControls(readings, levels, practice);

/** Names of the rules that spoke, test by test. */
export const rulesOf = (judged: readonly JudgedControl[]): string[][] => judged.map((j) => j.fired.map((f) => f.rule));
