/**
 * How everybody who is looked after stood at the end of a month: time in range, reassessment, plan. One person is read
 * at a time, so that memory does not grow with the clinic. All figures are made as in the report on one person.
 */
import { type DatedPoint, inOrder, lastDays } from '../clinic/course/dated-point.ts';
import { planOf } from '../clinic/course/plan.ts';
import { reassess } from '../clinic/course/reassessment.ts';
import { type TimeInRangeOutcome, timeInRange } from '../clinic/course/time-in-range.ts';
import { type CoursePoint, type LocalDate, targetOf } from '../clinic/facts.ts';
import { INR_LONGEST_INTERVAL } from '../clinic/rules/inr-limits.ts';
import { NICE_REASSESSMENT } from '../clinic/rules/reassessment-rules.ts';
import { NICE_NG196 } from '../clinic/rules/time-in-range-rules.ts';
import { type Instant, instant } from '../core/instant.ts';
import type { StoredPatient } from '../store/patients.ts';
import type { Store } from '../store/store.ts';

/** A criterion of the reassessment that is met: so many values beyond a limit, or too little time in range. */
export type MetCriterion =
  | { readonly kind: 'values'; readonly count: number; readonly beyond: 'above' | 'below'; readonly limit: number }
  | { readonly kind: 'time-in-range' };

/** How one person stood. */
export interface PersonStanding {
  readonly id: string;
  readonly name?: string;
  /** Over the last six months, by the rules of the reassessment. */
  readonly timeInRange: TimeInRangeOutcome;
  /** The criteria that are met, in words; empty where none is. */
  readonly met: readonly string[];
  /** The same, for whoever words them otherwise. */
  readonly criteria: readonly MetCriterion[];
  /** Days past the planned date; 0 where none. */
  readonly overdueDays: number;
  readonly daysSinceTest?: number;
  readonly isTooLong: boolean;
}

interface PointRow {
  id: string;
  taken_at: number;
  earliest: number | null;
  latest: number | null;
  value: number;
  beyond: '<' | '>' | null;
}

/** What everybody is looked at by. */
export interface StandingAsk {
  readonly analyte: string;
  /** Tests before this moment count, and it is the day of the plan. */
  readonly asOf: Instant;
  readonly localDate: LocalDate;
}

/** Hands one person after the other to `take`. */
export function eachStanding(
  store: Store,
  people: readonly StoredPatient[],
  ask: StandingAsk,
  take: (standing: PersonStanding) => void,
): void {
  for (const person of people)
    take(standingOf(store, person, inOrder(pointsOf(store, person, ask), ask.localDate), ask));
}

const DAY = 86_400_000;
/** Local dates and spans of 24 hours differ by less. */
const MARGIN = 2 * DAY;

/**
 * The tests on which the figures rest: those of the window; and before it the ones that tell when the count of first
 * days began and ended, and the last one, wherever they lie. All tests would give the same figures at several times the
 * cost.
 */
function pointsOf(store: Store, { patientNo, since }: StoredPatient, { analyte, asOf }: StandingAsk): CoursePoint[] {
  // The plus keeps SQLite from choosing the index of kinds, in which the tests of everybody stand.
  const select = (rest: string) =>
    store.db.statement<PointRow>(
      `SELECT reading_id AS id, taken_at, earliest, latest, value, beyond FROM judged
        WHERE patient_no = :patient AND taken_at >= :from AND taken_at < :until AND +kind = 'patient'
          AND analyte = :analyte AND value IS NOT NULL AND status IN ('settled', 'provisional')
        ORDER BY taken_at ${rest}`,
    );
  const between = (from: number, until: number, rest = ''): PointRow[] =>
    select(rest).all({ patient: patientNo, analyte, from, until });
  const [first] = between(0, asOf, 'LIMIT 1');
  if (!first) return [];
  const window = asOf - NICE_REASSESSMENT.windowDays * DAY - MARGIN;
  const firstDaysOver = (since ?? first.taken_at) + (NICE_NG196.leaveOutFirstDays ?? 0) * DAY + MARGIN;
  const rows = [
    first,
    ...between(first.taken_at, Math.min(firstDaysOver, window)),
    ...between(firstDaysOver, asOf, 'LIMIT 1'),
    ...between(window, asOf),
    ...between(first.taken_at, asOf, 'DESC LIMIT 1'),
  ];
  return [...new Map(rows.map((row) => [row.id, row])).values()].map(pointOf);
}

function standingOf(
  store: Store,
  { patientNo, id, name, since, planDays }: StoredPatient,
  tests: readonly DatedPoint[],
  { asOf, localDate }: StandingAsk,
): PersonStanding {
  const targets = store.patients.targets(patientNo).map(targetOf);
  const figure = timeInRange(tests, targets, NICE_NG196, {
    localDate,
    period: lastDays(NICE_REASSESSMENT.windowDays, asOf, localDate),
    ...(since !== undefined && { treatmentSince: since }),
  });
  const found = reassess(tests, figure, NICE_REASSESSMENT, asOf, localDate);
  const criteria = [
    ...found.criteria.flatMap(({ criterion: { beyond, limit }, counted, isMet }): MetCriterion[] =>
      isMet ? [{ kind: 'values', count: counted.length, beyond, limit }] : [],
    ),
    ...(found.timeInRange.isMet ? [{ kind: 'time-in-range' } as const] : []),
  ];
  const plan = planOf(tests, {
    now: asOf,
    localDate,
    longestDays: INR_LONGEST_INTERVAL.days,
    ...(planDays !== undefined && { everyDays: planDays }),
  });
  return {
    id,
    ...(name !== undefined && { name }),
    timeInRange: figure,
    met: criteria.map(criterionWords),
    criteria,
    overdueDays: plan.overdueDays,
    ...(plan.last && { daysSinceTest: plan.last.daysSince }),
    isTooLong: plan.isTooLong,
  };
}

const pointOf = (r: PointRow): CoursePoint => ({
  id: r.id,
  time: {
    at: instant(r.taken_at),
    ...(r.earliest !== null && { earliest: instant(r.earliest) }),
    ...(r.latest !== null && { latest: instant(r.latest) }),
  },
  value: r.value,
  ...(r.beyond !== null && { beyond: r.beyond }),
});

const criterionWords = (c: MetCriterion): string =>
  c.kind === 'values' ? `${c.count} ${c.count === 1 ? 'value' : 'values'} ${c.beyond} ${c.limit}` : 'time in range';
