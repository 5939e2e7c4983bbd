/**
 * Which tests count under a rule set for time in range, and with which values. Where the bounds of times allow for other
 * tests to count, that is said: figures made from the best estimates stay, their range does not.
 */
import type { Instant } from '../../core/instant.ts';
import type { LocalDate, TimeSpan } from '../facts.ts';
import type { TimeInRangeRules } from '../rules/time-in-range-rules.ts';
import { boundsIn, DAY_MS, type DatedPoint, dayOf, type Period, within } from './dated-point.ts';

/** A test that counts. */
export interface KeptTest {
  readonly id: string;
  readonly at: number;
  /** Bounds of its time, ms, infinite where open; the best estimate lies between them. */
  readonly earliest: number;
  readonly latest: number;
  readonly day: number;
  readonly value: number;
  /** True where the number shown is not the true value: it lies beyond it. */
  readonly isBeyond: boolean;
}

export interface KeptTests {
  readonly tests: readonly KeptTest[];
  /** Day of the first test after the first days of treatment, in the whole course; undefined where there is none. */
  readonly firstDay: number | undefined;
  /** Tests that do not count, by cause. */
  readonly leftOut: { readonly firstDays: number; readonly sameDate: number; readonly tooLow: number };
  /** Tests whose value was cut down to the cap. */
  readonly capped: number;
  /** True where the same tests count whatever their times within their bounds. */
  readonly isCertain: boolean;
}

/** What decides about it beside the rules. */
export interface KeepBy {
  readonly localDate: LocalDate;
  /** Only tests in this period count. Absent: the whole course. */
  readonly period?: Period;
  /** When treatment began. Absent: with the first test of the course, which leaves out rather too many. */
  readonly treatmentSince?: Instant;
}

/** Applies a rule set to tests in order: period, first days, one a date, too low, cap. */
export function keepTests(course: readonly DatedPoint[], rules: TimeInRangeRules, by: KeepBy): KeptTests {
  const { period } = by;
  const { dropUnder, cap, oneADateNearest, leaveOutFirstDays = 0 } = rules;
  const start = startOf(course, by);
  const isLate = ({ day }: DatedPoint): boolean => leaveOutFirstDays === 0 || day >= start.day + leaveOutFirstDays;
  const inPeriod = period ? within(course, period) : course;
  const late = inPeriod.filter(isLate);
  const single = oneADateNearest === undefined ? late : nearestOfEachDate(late, oneADateNearest);
  // A value shown as "<0.8" lies under 0.8 though the number does not.
  const isTooLow = ({ value, beyond }: DatedPoint): boolean =>
    dropUnder !== undefined && (value < dropUnder || (value === dropUnder && beyond === '<'));
  const high = single.filter((test) => !isTooLow(test));
  return {
    tests: high.map((test) => keptTest(test, cap)),
    firstDay: course.find(isLate)?.day,
    leftOut: {
      firstDays: inPeriod.length - late.length,
      sameDate: late.length - single.length,
      tooLow: single.length - high.length,
    },
    capped: cap === undefined ? 0 : high.filter(({ value }) => value > cap).length,
    isCertain:
      (!period || isPeriodCertain(course, period, by.localDate)) &&
      (leaveOutFirstDays === 0 || areFirstDaysCertain(course, leaveOutFirstDays, start, by.localDate)) &&
      (oneADateNearest === undefined || areDatesCertain(late, by.localDate)),
  };
}

function keptTest({ id, time, day, value, beyond }: DatedPoint, cap: number | undefined): KeptTest {
  const { earliest, latest } = boundsIn(time);
  return {
    id,
    at: time.at,
    earliest,
    latest,
    day,
    value: cap === undefined ? value : Math.min(value, cap),
    isBeyond: beyond !== undefined,
  };
}

/** Decimals such as 2.3 and 2.7 are as near to 2.5 as each other, but not as doubles. */
const TIE = 1e-9;

function nearestOfEachDate(tests: readonly DatedPoint[], nearest: number): DatedPoint[] {
  const kept: DatedPoint[] = [];
  for (const test of tests) {
    const before = kept.at(-1);
    if (before?.day !== test.day) kept.push(test);
    else if (Math.abs(test.value - nearest) <= Math.abs(before.value - nearest) + TIE) kept[kept.length - 1] = test;
  }
  return kept;
}

/** A day as counted from 1970, and between which it may lie. */
interface Days {
  readonly day: number;
  readonly first: number;
  readonly last: number;
}

/** When treatment began; where that is not told, the first test. */
function startOf([first]: readonly DatedPoint[], { treatmentSince, localDate }: KeepBy): Days {
  if (treatmentSince !== undefined) {
    const day = dayOf(localDate(treatmentSince));
    return { day, first: day, last: day };
  }
  return first ? { day: first.day, ...daysOf(first.time, localDate) } : { day: 0, first: 0, last: 0 };
}

/** The days on which a test may lie, infinite where open. */
function daysOf({ earliest, latest }: TimeSpan, localDate: LocalDate): { first: number; last: number } {
  return {
    first: earliest === undefined ? Number.NEGATIVE_INFINITY : dayOf(localDate(earliest)),
    last: latest === undefined ? Number.POSITIVE_INFINITY : dayOf(localDate(latest)),
  };
}

/** True where it is certain for every test whether it lies in the period. */
function isPeriodCertain(course: readonly DatedPoint[], { from, until }: Period, localDate: LocalDate): boolean {
  const [first, next] = [dayOf(from), dayOf(until) + 1];
  return course.every(
    ({ time }) => isSideCertain(time, first, first, localDate) && isSideCertain(time, next, next, localDate),
  );
}

/** True where it is certain for every test whether it lies in the first days of treatment. */
function areFirstDaysCertain(course: readonly DatedPoint[], days: number, start: Days, localDate: LocalDate): boolean {
  // A first test of uncertain date that begins the count takes its own place with it.
  const others = start.first === start.last ? course : course.slice(1);
  return others.every(({ time }) => isSideCertain(time, start.first + days, start.last + days, localDate));
}

/** True where a test lies surely before the earliest day that a border may have, or surely not before the latest. */
function isSideCertain(time: TimeSpan, earliest: number, latest: number, localDate: LocalDate): boolean {
  // Far from the border no date is asked for: that takes most of the time otherwise.
  const bounds = boundsIn(time);
  if (bounds.latest < (earliest - FAR) * DAY_MS || bounds.earliest > (latest + FAR) * DAY_MS) return true;
  const { first, last } = daysOf(time, localDate);
  return last < earliest || first >= latest;
}

/** More days than local dates and days of UTC can differ by. */
const FAR = 2;

/** True where it is certain for any two neighbours whether they share a date. */
function areDatesCertain(tests: readonly DatedPoint[], localDate: LocalDate): boolean {
  return tests.every(({ time }, i) => {
    const next = tests[i + 1]?.time;
    if (!next || boundsIn(time).latest + FAR * DAY_MS < boundsIn(next).earliest) return true;
    const a = daysOf(time, localDate);
    const b = daysOf(next, localDate);
    // Surely one after the other, or all four the same.
    return a.last < b.first || (a.first === b.last && a.last === b.first);
  });
}
