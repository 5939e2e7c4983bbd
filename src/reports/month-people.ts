/**
 * How everybody who is looked after stood at the end of a month: time in range, reassessment, plan. One person is read
 * at a time, so that memory does not grow with the clinic. All figures are made as in the report on one person.
 */
import { type DatedPoint, inOrder, type LocalDate, lastDays } from '../clinic/course/dated-point.ts';
import { planOf } from '../clinic/course/plan.ts';
import { reassess } from '../clinic/course/reassessment.ts';
import { type TimeInRangeOutcome, timeInRange } from '../clinic/course/time-in-range.ts';
import type { CoursePoint } from '../clinic/facts.ts';
import { INR_LONGEST_INTERVAL } from '../clinic/rules/inr-limits.ts';
import { NICE_REASSESSMENT } from '../clinic/rules/reassessment-rules.ts';
import { NICE_NG196 } from '../clinic/rules/time-in-range-rules.ts';
import { type Instant, instant } from '../core/instant.ts';
import type { StoredPatient } from '../store/patients.ts';
import type { Store } from '../store/store.ts';

/** How one person stood. */
export interface PersonStanding {
  readonly id: string;
  readonly name?: string;
  /** Over the last six months, by the rules of the reassessment. */
  readonly timeInRange: TimeInRangeOutcome;
  /** The criteria that are met, in words; empty where none is. */
  readonly met: readonly string[];
  /** Days past the planned date; 0 where none. */
  readonly overdueDays: number;
  readonly daysSinceTest?: number;
  readonly isTooLong: boolean;
}

interface PointRow {
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
  const points = store.db.statement<PointRow>(
    `SELECT taken_at, earliest, latest, value, beyond FROM judged
      WHERE patient_no = :patient AND taken_at < :asOf AND kind = 'patient' AND analyte = :analyte
        AND value IS NOT NULL AND status IN ('settled', 'provisional') ORDER BY taken_at`,
  );
  for (const person of people) {
    const rows = points.all({ patient: person.patientNo, asOf: ask.asOf, analyte: ask.analyte });
    take(standingOf(store, person, inOrder(rows.map(pointOf), ask.localDate), ask));
  }
}

function standingOf(
  store: Store,
  { patientNo, id, name, since, planDays }: StoredPatient,
  tests: readonly DatedPoint[],
  { asOf, localDate }: StandingAsk,
): PersonStanding {
  const targets = store.patients
    .targets(patientNo)
    .map((t) => ({ from: t.from, low: Number(t.low), high: Number(t.high) }));
  const figure = timeInRange(tests, targets, NICE_NG196, {
    localDate,
    period: lastDays(NICE_REASSESSMENT.windowDays, asOf, localDate),
    ...(since !== undefined && { treatmentSince: since }),
  });
  const found = reassess(tests, figure, NICE_REASSESSMENT, asOf, localDate);
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
    met: [
      ...found.criteria.flatMap(({ criterion: c, counted, isMet }) =>
        isMet ? [`${counted.length} ${counted.length === 1 ? 'value' : 'values'} ${c.beyond} ${c.limit}`] : [],
      ),
      ...(found.timeInRange.isMet ? ['time in range'] : []),
    ],
    overdueDays: plan.overdueDays,
    ...(plan.last && { daysSinceTest: plan.last.daysSince }),
    isTooLong: plan.isTooLong,
  };
}

/** The reading's id is not needed for these figures, and half of the bytes. */
const pointOf = (r: PointRow): CoursePoint => ({
  id: '',
  time: {
    at: instant(r.taken_at),
    ...(r.earliest !== null && { earliest: instant(r.earliest) }),
    ...(r.latest !== null && { latest: instant(r.latest) }),
  },
  value: r.value,
  ...(r.beyond !== null && { beyond: r.beyond }),
});
