/**
 * Rule sets for time in therapeutic range, as data: what counts, over how long, against which limits. Every figure and
 * every report names the rule set it was made with.
 */
import type { Source } from '../facts.ts';

/** How time in range is to be reckoned. Days are differences of local dates. */
export interface TimeInRangeRules {
  readonly source: Source;
  /** Two tests more than so many local dates apart: the time between is left out. */
  readonly gapDays: number;
  /** Limits, inclusive: those of the person's own targets, or the same for everybody. */
  readonly range: 'targets' | { readonly low: number; readonly high: number };
  /** One test a local date is kept: the one nearest to this value, of equally near ones the latest. */
  readonly oneADateNearest?: number;
  /** Then tests with a value under this are dropped. */
  readonly dropUnder?: number;
  /** Then a value over this is taken for this. */
  readonly cap?: number;
  /** Tests made in the first so many days of treatment are left out. */
  readonly leaveOutFirstDays?: number;
  /** No figure before so many days lie between the first test of the course after the first days and the last that counts. */
  readonly atLeastDays?: number;
  /** No figure from fewer tests. */
  readonly atLeastTests: number;
  /** Conditions on the person that this program cannot see: to be stated beside the figure. */
  readonly conditions: readonly string[];
}

/** The method as usually reckoned: continuous, limits inclusive, gaps over 56 days left out. */
export const ROSENDAAL_1993: TimeInRangeRules = {
  source: {
    name: 'Rosendaal 1993',
    edition: 'continuous fraction',
    citation:
      'Thromb Haemost 1993;69:236-239 (method from memory), as the limit of ever shorter days; gap of 56 days as in the definition of LOINC 72281-9',
  },
  gapDays: 56,
  range: 'targets',
  atLeastTests: 2,
  conditions: [],
};

/** The cleaning rules of the US measure. They are applied in the order in which the measure lists them. */
export const CMS179: TimeInRangeRules = {
  source: {
    name: 'CMS179',
    edition: 'v4/v5',
    citation: 'eCQI resource centre, CMS179v4 and v5; ONC project tracking CQM-899',
  },
  gapDays: 56,
  range: { low: 2, high: 3 },
  oneADateNearest: 2.5,
  dropUnder: 0.8,
  cap: 10,
  atLeastTests: 3,
  conditions: [
    '18 years or older',
    'non-valvular atrial fibrillation',
    'on warfarin for at least 180 days before the period',
    'values during hospital stays of more than 23 hours are to be left out',
  ],
};

/** The UK habit. Half a year is taken as 183 days: the source says six months. */
export const NICE_NG196: TimeInRangeRules = {
  source: {
    name: 'NICE NG196',
    edition: '2021',
    citation:
      'as extracted at nursing-notebook.com and in Eur Heart J Cardiovasc Pharmacother 7(1):40; gap as in Rosendaal 1993',
  },
  gapDays: 56,
  range: 'targets',
  leaveOutFirstDays: 42,
  atLeastDays: 183,
  atLeastTests: 2,
  conditions: [],
};
