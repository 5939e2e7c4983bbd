/**
 * How a comparison of meters with the laboratory is made, where a clinic may want it otherwise: each figure with where
 * it comes from.
 */
import type { Source } from '../facts.ts';
import { GLUCOSE_MASS_RULES, GLUCOSE_MOLAR_RULES } from './agreement-glucose.ts';
import { ISO_17593_2007, POCT14_ED2, WITHIN_HALF_A_UNIT } from './agreement-inr.ts';
import type { AgreementRule, ValueSpan } from './agreement-rule.ts';

/** Every rule that comes with the program. */
export const AGREEMENT_RULES: readonly AgreementRule[] = [
  WITHIN_HALF_A_UNIT,
  ISO_17593_2007,
  POCT14_ED2,
  ...GLUCOSE_MASS_RULES,
  ...GLUCOSE_MOLAR_RULES,
];

/** The rules for an analyte in a unit. INR has one unit, whatever a meter calls it. */
export const agreementRulesFor = (analyte: string, unit: string): readonly AgreementRule[] =>
  AGREEMENT_RULES.filter((rule) => rule.analyte === analyte && (analyte === 'INR' || rule.unit === unit));

/** A figure that a clinic may change, with its source. */
export interface Habit<T> {
  readonly value: T;
  readonly source: Source;
}

const COMMON: Source = { name: 'House habit', edition: '1', citation: 'common practice, no source' };
const EP09: Source = { name: 'CLSI EP09', edition: 'usual advice', citation: 'from memory' };

/** The most time between a meter's reading and a laboratory value that are compared, in hours. */
export const PAIR_WITHIN_HOURS: Habit<number> = { value: 4, source: COMMON };

/** Fewer pairs are shown and not judged. */
export const FEWEST_PAIRS: Habit<number> = { value: 10, source: COMMON };

/** Fewer pairs are judged with a caution. */
export const ENOUGH_PAIRS: Habit<number> = { value: 40, source: EP09 };

/** The stretches of laboratory values in which differences are reported, and which difference is counted as near. */
export interface ReportBands {
  readonly spans: readonly ValueSpan[];
  /** Up to this difference, in the unit of the values, a pair is near. */
  readonly nearUnits?: number;
}

/** For INR: agreement falls as the INR rises, so it is counted by band. */
export const INR_REPORT_BANDS: Habit<ReportBands> = {
  value: { spans: [{ below: 2 }, { from: 2, to: 3 }, { over: 3, to: 4 }, { over: 4 }], nearUnits: 0.5 },
  source: { name: 'Bands of agreement', edition: '1998', citation: 'Thromb Res 1998;92:11-17, abstract' },
};

/** For other analytes: all values together. */
export const WHOLE_RANGE: Habit<ReportBands> = { value: { spans: [{}] }, source: COMMON };

/** Variance of the meter's errors over that of the laboratory's, for Deming's line: equal where nobody has measured it. */
export const ERROR_RATIO: Habit<number> = { value: 1, source: COMMON };

/** How sure confidence limits are. */
export const CONFIDENCE: Habit<number> = { value: 0.95, source: COMMON };

/** Two values of INR that are both out of the target range disagree from this difference on. */
export const OUT_AND_APART: Habit<number> = {
  value: 0.5,
  source: { name: 'Dosing-relevant disagreement', edition: 'JAMA letter', citation: '0.5; 0.4 is also used' },
};
