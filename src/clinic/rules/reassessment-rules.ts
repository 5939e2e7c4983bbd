/** When a person's anticoagulation is to be looked at again: criteria as data. */
import type { Source } from '../facts.ts';

/** So many values beyond a limit, strictly. */
export interface ReassessmentCriterion {
  readonly beyond: 'above' | 'below';
  readonly limit: number;
  readonly atLeast: number;
}

export interface ReassessmentRules {
  readonly source: Source;
  /** Tests of the last so many local dates count, for the values and for the time in range. */
  readonly windowDays: number;
  readonly criteria: readonly ReassessmentCriterion[];
  /** A fraction of time in range under this is a reason too. */
  readonly timeInRangeUnder: number;
}

/** Six months are taken as 183 days: the source does not say it in days. */
export const NICE_REASSESSMENT: ReassessmentRules = {
  source: {
    name: 'NICE NG196',
    edition: '2021',
    citation: 'as extracted at nursing-notebook.com and in Eur Heart J Cardiovasc Pharmacother 7(1):40',
  },
  windowDays: 183,
  criteria: [
    { beyond: 'above', limit: 5, atLeast: 2 },
    { beyond: 'above', limit: 8, atLeast: 1 },
    { beyond: 'below', limit: 1.5, atLeast: 2 },
  ],
  timeInRangeUnder: 0.65,
};
