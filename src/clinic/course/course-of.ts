/**
 * The course of one person and one analyte as plain data: the one place where reports, the desk and outlets get it from.
 *
 * In: the person's tests (neither void nor held), errors, targets with their history, the plan, the moment for which the
 * course is made, and the zone as a function. Out: every test with its standing, critical ones first, and every figure
 * with the rules it was made with, or why there is none. Nothing is read from a clock; the same input gives the same
 * course. It holds no functions, so it can be written as JSON.
 *
 * Never a dose, never a diagnosis: a course says where values stood and what waits.
 */
import type { Instant } from '../../core/instant.ts';
import type { CoursePoint, LocalDate, Target } from '../facts.ts';
import { INR_CONFIRM, INR_CRITICAL, INR_LONGEST_INTERVAL } from '../rules/inr-limits.ts';
import { NICE_REASSESSMENT, type ReassessmentRules } from '../rules/reassessment-rules.ts';
import { ERROR_HABITS, TECHNIQUE } from '../rules/technique.ts';
import { CMS179, NICE_NG196, ROSENDAAL_1993, type TimeInRangeRules } from '../rules/time-in-range-rules.ts';
import { TREND_HABITS } from '../rules/trend-habits.ts';
import { type DatedPoint, inOrder, isWithin, lastDays, type Period } from './dated-point.ts';
import { type ErrorSummary, type ErrorTest, errorSummary } from './error-tests.ts';
import type { NotCalculable } from './figure.ts';
import { type Plan, planOf } from './plan.ts';
import { type Reassessment, reassess } from './reassessment.ts';
import { type Judgement, judge, type ValueLimits } from './standing.ts';
import { targetAt, targetsInOrder } from './target-at.ts';
import { type TestsInRange, testsInRange } from './tests-in-range.ts';
import { type TimeInRangeOutcome, timeInRange } from './time-in-range.ts';
import { type Trend, trendOf } from './trend.ts';
import { type Variability, variability } from './variability.ts';

/** What a course is made from. */
export interface CourseInput {
  /** Tests of one analyte, in any order. */
  readonly points: readonly CoursePoint[];
  /** Tests that ended in an error, in any order. */
  readonly errors?: readonly ErrorTest[];
  /** In any order. */
  readonly targets: readonly Target[];
  /** The moment for which the course is made. */
  readonly now: Instant;
  /** Local date `YYYY-MM-DD` in the zone of the clinic. */
  readonly localDate: LocalDate;
  /** Time in range, tests in range, variability and errors are reckoned over this. Absent: the whole course. */
  readonly period?: Period;
  /** When treatment began. Absent: taken as the first test, where a rule asks for it. */
  readonly treatmentSince?: Instant;
  /** A test is planned every so many days. Absent: no plan. */
  readonly planDays?: number;
  /** When planned testing began. Absent: with the first test. */
  readonly planSince?: Instant;
  /** Meanings of error codes as the meter's maker gives them. */
  readonly errorMeanings?: Readonly<Record<string, string>>;
  /** Errors of all tests of the clinic, 0 to 1. */
  readonly clinicErrorRate?: number;
}

/** Limits, rule sets and habits: all that a clinic may change. */
export interface CourseRules {
  readonly limits: ValueLimits;
  /** Each gives a figure; the first is the one to show where there is room for one. */
  readonly timeInRange: readonly [TimeInRangeRules, ...TimeInRangeRules[]];
  readonly reassessment: ReassessmentRules;
  /** With which the time in range of the reassessment is reckoned. */
  readonly reassessmentTime: TimeInRangeRules;
  readonly trend: Omit<typeof TREND_HABITS, 'source'>;
  readonly longestDays: number;
  readonly errors: Omit<typeof ERROR_HABITS, 'source'>;
  readonly technique: (typeof TECHNIQUE)['causes'];
}

/** The rules for INR, from the data in `src/clinic/rules/`. */
export const INR_COURSE_RULES: CourseRules = {
  limits: { critical: INR_CRITICAL, confirmFrom: INR_CONFIRM.from },
  timeInRange: [ROSENDAAL_1993, CMS179, NICE_NG196],
  reassessment: NICE_REASSESSMENT,
  reassessmentTime: NICE_NG196,
  trend: TREND_HABITS,
  longestDays: INR_LONGEST_INTERVAL.days,
  errors: ERROR_HABITS,
  technique: TECHNIQUE.causes,
};

/** A test of the course, and where it stood. */
export interface CourseTest {
  readonly test: DatedPoint;
  readonly judgement: Judgement;
}

export interface Course {
  readonly now: Instant;
  /** Absent: the whole course. */
  readonly period?: Period;
  /** All tests, oldest first. */
  readonly tests: readonly CourseTest[];
  /** The target in force now; absent where there is none. */
  readonly target?: Target;
  /** Critical tests of the period, newest first. */
  readonly critical: readonly CourseTest[];
  /** One outcome for each rule set, in their order. */
  readonly timeInRange: readonly TimeInRangeOutcome[];
  readonly testsInRange: TestsInRange;
  readonly reassessment: Reassessment;
  readonly variability: Variability;
  readonly trend: Trend | NotCalculable;
  readonly plan: Plan;
  readonly errors: ErrorSummary;
}

/** Makes the course. Never throws for anything that the types allow. */
export function courseOf(input: CourseInput, rules: CourseRules = INR_COURSE_RULES): Course {
  const { now, localDate, period, treatmentSince } = input;
  const targets = targetsInOrder(input.targets);
  const dated = inOrder(input.points, localDate);
  const tests = dated.map((test): CourseTest => ({ test, judgement: judge(test, targets, rules.limits) }));
  const lookedAt = period ? tests.filter(({ test: { date } }) => isWithin(date, period)) : tests;
  const looked = lookedAt.map(({ test }) => test);
  const target = targetAt(targets, now);
  const since = treatmentSince === undefined ? {} : { treatmentSince };
  return {
    now,
    ...(period && { period }),
    tests,
    ...(target && { target }),
    critical: lookedAt.filter(({ judgement }) => judgement.standing.startsWith('critical')).toReversed(),
    timeInRange: rules.timeInRange.map((set) =>
      timeInRange(dated, targets, set, { localDate, ...since, ...(period && { period }) }),
    ),
    testsInRange: testsInRange(lookedAt.map(({ judgement }) => judgement)),
    reassessment: reassess(
      dated,
      timeInRange(dated, targets, rules.reassessmentTime, {
        localDate,
        ...since,
        period: lastDays(rules.reassessment.windowDays, now, localDate),
      }),
      rules.reassessment,
      now,
      localDate,
    ),
    variability: variability(looked, targets),
    trend: trendOf(dated, rules.trend, now, localDate),
    plan: planOf(dated, {
      now,
      localDate,
      longestDays: rules.longestDays,
      ...(input.planDays !== undefined && { everyDays: input.planDays }),
      ...(input.planSince !== undefined && { since: input.planSince }),
    }),
    errors: errorSummary(errorsIn(input.errors ?? [], period, localDate), looked, {
      habits: rules.errors,
      advice: rules.technique,
      ...(input.errorMeanings && { meanings: input.errorMeanings }),
      ...(input.clinicErrorRate !== undefined && { clinicRate: input.clinicErrorRate }),
    }),
  };
}

const errorsIn = (
  errors: readonly ErrorTest[],
  period: Period | undefined,
  localDate: LocalDate,
): readonly ErrorTest[] => (period ? errors.filter(({ time }) => isWithin(localDate(time.at), period)) : errors);
