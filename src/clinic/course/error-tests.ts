/**
 * Tests that ended in an error: how many, with which codes, whether they come in clusters or more often than chance
 * explains, and what usually goes wrong. A cluster means that somebody should watch the person test again.
 */
import type { Instant } from '../../core/instant.ts';
import type { TimeSpan } from '../facts.ts';
import type { ERROR_HABITS, TechniqueAdvice } from '../rules/technique.ts';
import { chanceOfAtLeast } from '../statistics/proportion.ts';
import type { DatedPoint } from './dated-point.ts';

/** A test that ended in an error. */
export interface ErrorTest {
  readonly id: string;
  readonly time: TimeSpan;
  /** The meter's code; absent where it told none. */
  readonly code?: string;
}

export interface ErrorCount {
  /** The meter's code; empty where it told none. */
  readonly code: string;
  readonly count: number;
  readonly last: Instant;
  /** In the words of the meter's maker, where its profile has them. */
  readonly meaning?: string;
}

export interface ErrorCluster {
  readonly from: Instant;
  readonly until: Instant;
  readonly errors: number;
  /** All tests from the first of these errors to the last. */
  readonly tests: number;
}

export interface ErrorSummary {
  readonly errors: number;
  /** All tests, with those that ended in an error. */
  readonly tests: number;
  /** The most frequent code first, then by code. */
  readonly codes: readonly ErrorCount[];
  /** Oldest first. */
  readonly clusters: readonly ErrorCluster[];
  /** Present where the clinic's rate is known and there are tests. */
  readonly againstClinic?: {
    readonly rate: number;
    /** Probability of so many errors or more among so many tests at that rate (binomial, exact). */
    readonly chance: number;
    readonly isUnusual: boolean;
  };
  /** What usually goes wrong, whatever the code; empty where there was no error. */
  readonly advice: readonly TechniqueAdvice[];
}

/** What errors are held against. */
export interface ErrorsBy {
  readonly habits: Omit<typeof ERROR_HABITS, 'source'>;
  readonly advice: readonly TechniqueAdvice[];
  /** Meanings of codes as the maker gives them, from the profile of the person's meter. */
  readonly meanings?: Readonly<Record<string, string>>;
  /** Errors of all tests of the clinic, 0 to 1. */
  readonly clinicRate?: number;
}

/** Sums up the errors beside the tests that gave a value. */
export function errorSummary(
  errors: readonly ErrorTest[],
  tests: readonly DatedPoint[],
  { habits, advice, meanings = {}, clinicRate }: ErrorsBy,
): ErrorSummary {
  const all = errors.length + tests.length;
  const against = (rate: number) => {
    const chance = chanceOfAtLeast(errors.length, all, rate);
    return { rate, chance, isUnusual: chance < habits.unusualChance };
  };
  return {
    errors: errors.length,
    tests: all,
    codes: countsOf(errors, meanings),
    clusters: clustersOf(errors, tests, habits.cluster),
    ...(clinicRate !== undefined && all > 0 && { againstClinic: against(clinicRate) }),
    advice: errors.length > 0 ? advice : [],
  };
}

function countsOf(errors: readonly ErrorTest[], meanings: Readonly<Record<string, string>>): ErrorCount[] {
  const byCode = new Map<string, { count: number; last: Instant }>();
  for (const { code = '', time } of errors) {
    const so = byCode.get(code);
    byCode.set(code, { count: (so?.count ?? 0) + 1, last: so && so.last > time.at ? so.last : time.at });
  }
  return [...byCode]
    .map(([code, { count, last }]): ErrorCount => {
      const meaning = Object.hasOwn(meanings, code) ? meanings[code] : undefined;
      return { code, count, last, ...(meaning !== undefined && { meaning }) };
    })
    .toSorted((a, b) => b.count - a.count || (a.code < b.code ? -1 : 1));
}

function clustersOf(
  errors: readonly ErrorTest[],
  tests: readonly DatedPoint[],
  { errors: least, withinTests }: ErrorsBy['habits']['cluster'],
): ErrorCluster[] {
  const ordered = [
    ...errors.map(({ time }) => ({ at: time.at, isError: true })),
    ...tests.map(({ time }) => ({ at: time.at, isError: false })),
  ].toSorted((a, b) => a.at - b.at);
  const places = ordered.flatMap(({ isError }, place) => (isError ? [place] : []));
  const clusters: { first: number; last: number }[] = [];
  // Runs of errors that are close enough, by their places among the errors; runs that share an error are one.
  for (let first = 0; first + least <= places.length; first++) {
    const last = first + least - 1;
    if ((places[last] ?? 0) - (places[first] ?? 0) >= withinTests) continue;
    const before = clusters.at(-1);
    if (before && before.last >= first) before.last = last;
    else clusters.push({ first, last });
  }
  return clusters.map(({ first, last }) => {
    const [from, until] = [places[first] ?? 0, places[last] ?? 0];
    const at = (place: number): Instant => ordered[place]?.at as Instant;
    return { from: at(from), until: at(until), errors: last - first + 1, tests: until - from + 1 };
  });
}
