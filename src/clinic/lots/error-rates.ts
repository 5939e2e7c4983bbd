/** How often tests fail, by meter, person, operator or strip lot, held against the whole clinic. */
import { groupBy } from '../group-by.ts';
import type { Estimate } from '../statistics/intervals.ts';
import { chanceOfAtLeast, exactShare } from '../statistics/proportion.ts';

/** One test, failed or not; control tests are not handed in. What is not known is absent. */
export interface TriedTest {
  readonly isError: boolean;
  readonly meter: string;
  readonly person?: string;
  readonly operator?: string;
  readonly lot?: string;
}

/** By what error rates are told apart. */
export type ErrorGrouping = 'meter' | 'person' | 'operator' | 'lot';

/** Failed tests among all tests of one group. */
export interface ErrorRate {
  readonly of: string;
  readonly errors: number;
  readonly tests: number;
  /** The share of failed tests with its exact interval. */
  readonly share: Estimate;
  /**
   * True where the group fails more often than the clinic as a whole, beyond chance: the lower limit lies above the
   * clinic's rate even when the interval is widened for the number of groups that are looked at (Bonferroni), so that
   * among any number of equal groups one is called out by mistake at most once in twenty times.
   */
  readonly isAboveClinic: boolean;
}

/** All groups, those that stand out first, then by the lower limit of their rate. */
export interface ErrorRates {
  readonly by: ErrorGrouping;
  /** Rate of all the tests handed in; absent where there are none. */
  readonly clinic?: Estimate;
  readonly rates: readonly ErrorRate[];
  /** Tests of which it is not known to which group they belong. */
  readonly unknown: number;
}

const CONFIDENCE = 0.95;

/** Error rates by one grouping. */
export function errorRates(tests: readonly TriedTest[], by: ErrorGrouping): ErrorRates {
  const clinic = exactShare(tests.filter((t) => t.isError).length, tests.length, CONFIDENCE);
  const groups = groupBy(tests, (t) => t[by]);
  const unknown = groups.get(undefined)?.length ?? 0;
  const known = groups.size - (unknown > 0 ? 1 : 0);
  const rates = [...groups].flatMap(([of, own]): ErrorRate[] => {
    const errors = own.filter((t) => t.isError).length;
    const share = exactShare(errors, own.length, CONFIDENCE);
    if (of === undefined || !share || !clinic) return [];
    // The exact limit lies above a rate where, at that rate, so many errors or more are less likely than its tail.
    const chance = chanceOfAtLeast(errors, own.length, clinic.estimate);
    return [{ of, errors, tests: own.length, share, isAboveClinic: chance < (1 - CONFIDENCE) / 2 / known }];
  });
  rates.sort((a, b) => Number(b.isAboveClinic) - Number(a.isAboveClinic) || b.share.low - a.share.low);
  return { by, ...(clinic && { clinic }), rates, unknown };
}
