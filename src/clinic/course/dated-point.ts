/**
 * The tests of a course in order, with their local dates: what all figures of this folder are reckoned from. Rules of
 * the trade count dates on a calendar, not spans of 24 hours, so the zone comes in here, once, as a function.
 */
import type { Instant } from '../../core/instant.ts';
import type { CoursePoint, LocalDate, TimeSpan } from '../facts.ts';

/** Milliseconds of a day of 24 hours. */
export const DAY_MS = 86_400_000;

/** A test with its local date. */
export interface DatedPoint extends CoursePoint {
  /** `YYYY-MM-DD` at its best estimate. */
  readonly date: string;
  /** The same as a count of days: differences are days on the calendar. */
  readonly day: number;
}

/** A part of a course in local dates, `YYYY-MM-DD`; both belong to it. */
export interface Period {
  readonly from: string;
  readonly until: string;
}

/** Days on the calendar since 1970-01-01. */
export const dayOf = (date: string): number => Date.parse(date) / DAY_MS;

/** The date of such a count, `YYYY-MM-DD`. */
export const dateOf = (day: number): string => new Date(day * DAY_MS).toISOString().slice(0, 10);

/** Tests by their best estimates; of the same instant as they were given. */
export function inOrder(points: readonly CoursePoint[], localDate: LocalDate): DatedPoint[] {
  return points
    .toSorted((a, b) => a.time.at - b.time.at)
    .map(({ id, time, value, beyond }) => {
      const date = localDate(time.at);
      const day = dayOf(date);
      // Written out, because copies by spreading take most of the time of a course otherwise.
      return beyond === undefined ? { id, time, value, date, day } : { id, time, value, beyond, date, day };
    });
}

/** Bounds of a time, ms, infinite where open; never on the wrong side of the best estimate. */
export const boundsIn = ({ at, earliest, latest }: TimeSpan): { earliest: number; latest: number } => ({
  earliest: Math.min(earliest ?? Number.NEGATIVE_INFINITY, at),
  latest: Math.max(latest ?? Number.POSITIVE_INFINITY, at),
});

/** True where a local date lies in the period. Dates written so compare as text. */
export const isWithin = (date: string, { from, until }: Period): boolean => date >= from && date <= until;

/** The tests whose best estimate lies in the period. */
export const within = (tests: readonly DatedPoint[], period: Period): DatedPoint[] =>
  tests.filter(({ date }) => isWithin(date, period));

/** Today and the `days` local dates before it. */
export function lastDays(days: number, now: Instant, localDate: LocalDate): Period {
  const today = localDate(now);
  return { from: dateOf(dayOf(today) - days), until: today };
}

/** One test for each local date: the last one, since a repeat on the same day takes the place of what it checks. */
export const lastOfEachDate = (tests: readonly DatedPoint[]): DatedPoint[] =>
  tests.filter((test, i) => tests[i + 1]?.day !== test.day);
