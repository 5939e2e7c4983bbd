/** Takes from the store what the report on one person shows, as plain data. */
import { type Course, courseOf, INR_COURSE_RULES } from '../clinic/course/course-of.ts';
import type { Period } from '../clinic/course/dated-point.ts';
import { type CoursePoint, type TimeSpan, targetOf, timeSpan } from '../clinic/facts.ts';
import { INR_CONFIRM, INR_CRITICAL } from '../clinic/rules/inr-limits.ts';
import type { Policy } from '../clinic/rules/policy.ts';
import { type Instant, instant } from '../core/instant.ts';
import { localDay } from '../core/local-words.ts';
import { isClear, type Standing } from '../core/outgoing.ts';
import type { Incident } from '../core/placement.ts';
import type { Value } from '../core/reading.ts';
import { zoneOf } from '../core/zone.ts';
import { patientOf } from '../record/context.ts';
import type { StoredJudged } from '../store/judged.ts';
import { isLentAt } from '../store/lends.ts';
import type { PatientFacts, StoredTarget } from '../store/patients.ts';
import type { ListedReading } from '../store/readings.ts';
import type { Store } from '../store/store.ts';

/** One test that gave a value, whether or not it counts. */
export interface ValueRow {
  readonly id: string;
  /** Absent where nothing is known of its time. */
  readonly time?: TimeSpan;
  readonly values: readonly Value[];
  readonly status: StoredJudged['status'];
  readonly standing?: Standing;
  /** False where its bounds allow for another standing. */
  readonly isCertain: boolean;
  /** True where local policy usually asks for a laboratory value. */
  readonly toConfirm: boolean;
  /** Why it waits. */
  readonly waits: readonly string[];
  /** Why it was struck out, in the operator's words. */
  readonly voidReason?: string;
  readonly meterId: string;
  readonly lot?: string;
}

/** What stands of a target that was set. */
export type TargetRow = Pick<StoredTarget, 'from' | 'low' | 'high' | 'setBy' | 'setAt'>;

/** The whole of the report. */
export interface PatientReport {
  readonly now: Instant;
  readonly zone: string;
  readonly patient: PatientFacts;
  readonly analyte: string;
  readonly course: Course;
  /** Newest first; those of the period. */
  readonly values: readonly ValueRow[];
  /** Oldest first. */
  readonly targets: readonly TargetRow[];
  /** Meters lent to the person now. */
  readonly meters: readonly string[];
  /** What happened to the clocks of meters that were lent to the person, while they were. */
  readonly incidents: readonly Incident[];
  readonly critical?: { readonly low: number; readonly high: number };
}

/** What to gather. */
export interface PatientAsk {
  readonly patientId: string;
  readonly now: Instant;
  readonly zone: string;
  readonly policy: Policy;
  /** Moments from which and before which tests are shown. */
  readonly since?: Instant;
  readonly until?: Instant;
}

/** Gathers it. Throws PATIENT_UNKNOWN. */
export function gatherPatient(store: Store, ask: PatientAsk): PatientReport {
  const { now, zone, policy } = ask;
  const { patientNo, ...patient } = patientOf(store, ask.patientId);
  const local = zoneOf(zone);
  const localDate = (at: Instant): string => localDay(at, local);
  const judged = store.judged.list({ patientNo });
  const readings = new Map(store.readings.list(judged.map((j) => j.reading)).map((r) => [r.id, r]));
  const tests = judged.filter((j) => j.kind === 'patient');
  const analyte = policy.targeted.find((a) => tests.some((j) => j.analyte === a)) ?? policy.targeted[0] ?? 'INR';
  const targets = store.patients.targets(patientNo);
  const period = periodOf(ask, judged, localDate);
  const critical = policy.critical[analyte];
  const course = courseOf(
    {
      points: tests.flatMap((j) => (isClear(j.status) && j.analyte === analyte ? pointOf(j) : [])),
      errors: judged.flatMap((j) => errorOf(j, readings.get(j.reading))),
      targets: targets.map(targetOf),
      now,
      localDate,
      ...(period && { period }),
      ...(patient.since !== undefined && { treatmentSince: patient.since }),
      ...(patient.planDays !== undefined && { planDays: patient.planDays }),
      ...clinicErrorRate(store),
    },
    {
      ...INR_COURSE_RULES,
      limits: { ...(critical && { critical }), ...(analyte === 'INR' && { confirmFrom: INR_CONFIRM.from }) },
    },
  );
  const isShown = (j: StoredJudged): boolean => {
    const at = timeSpan(j)?.at;
    return !period || at === undefined || (localDate(at) >= period.from && localDate(at) <= period.until);
  };
  const lends = store.lends.list({ patientNo });
  return {
    now,
    zone,
    patient,
    analyte,
    course,
    values: rowsOf(store, tests.filter(isShown), readings, course),
    targets: targets.map(({ from, low, high, setBy, setAt }) => ({ from, low, high, setBy, setAt })),
    meters: lends.filter((lend) => isLentAt(lend, now)).map((l) => l.meterId),
    incidents: lends.flatMap((lend) =>
      store.meters.list(lend.meterId).flatMap(({ meterNo, model }) =>
        (lend.model === undefined || lend.model === model ? store.incidents.list(meterNo) : [])
          .filter((i) => i.source === 'clock' && (i.latest ?? lend.from) >= lend.from)
          .filter((i) => lend.to === undefined || (i.earliest ?? lend.from) <= lend.to)
          .map(({ kind, earliest, latest, sizeS, likelyCause, explanation }) => ({
            kind,
            ...(earliest !== undefined && { earliest }),
            ...(latest !== undefined && { latest }),
            ...(sizeS !== undefined && { sizeS }),
            likelyCause,
            explanation,
          })),
      ),
    ),
    ...(critical && { critical }),
  };
}

/** Where the default limits come from; a clinic's own have no source but the clinic. */
export const criticalSource = (critical: { readonly low: number; readonly high: number }): string =>
  critical.low === INR_CRITICAL.low && critical.high === INR_CRITICAL.high
    ? `${INR_CRITICAL.source.name}, ${INR_CRITICAL.source.edition}: ${INR_CRITICAL.source.citation}`
    : 'set by the clinic';

function pointOf(j: StoredJudged): CoursePoint[] {
  const time = timeSpan(j);
  if (!time || j.value === undefined) return [];
  return [{ id: j.reading, time, value: j.value, ...(j.beyond && { beyond: j.beyond }) }];
}

function errorOf(j: StoredJudged, reading: ListedReading | undefined) {
  const time = timeSpan(j);
  if (j.kind !== 'error' || j.status === 'void' || !time) return [];
  const code = reading?.record.errorCode;
  return [{ id: j.reading as string, time, ...(code !== undefined && { code }) }];
}

/** Errors among all tests of people at the clinic; absent before there are any. */
function clinicErrorRate(store: Store): { clinicErrorRate?: number } {
  const counts = store.db
    .statement<{ kind: string; n: number }>(
      "SELECT kind, count(*) AS n FROM judged WHERE status <> 'void' AND kind <> 'control' GROUP BY kind",
    )
    .all();
  const all = counts.reduce((sum, { n }) => sum + n, 0);
  const errors = counts.find(({ kind }) => kind === 'error')?.n ?? 0;
  return all > 0 ? { clinicErrorRate: errors / all } : {};
}

/** The local dates asked for; an end that was not asked for is today, a beginning the first test. */
function periodOf(
  { since, until, now }: PatientAsk,
  judged: readonly StoredJudged[],
  localDate: (at: Instant) => string,
): Period | undefined {
  if (since === undefined && until === undefined) return undefined;
  const first = judged.flatMap((j) => timeSpan(j)?.at ?? [])[0] ?? now;
  return {
    from: localDate(since ?? first),
    until: localDate(until === undefined ? now : instant(until - 1)),
  };
}

function rowsOf(
  store: Store,
  tests: readonly StoredJudged[],
  readings: ReadonlyMap<string, ListedReading>,
  course: Course,
): ValueRow[] {
  const judgements = new Map(course.tests.map(({ test, judgement }) => [test.id, judgement]));
  const voidReasons = new Map(
    store.decisions
      .of(tests.filter((j) => j.status === 'void').map((j) => j.reading))
      .flatMap((d) => (d.kind === 'void' && !d.undone ? [[d.reading, d.reason] as const] : [])),
  );
  return tests
    .flatMap((j): ValueRow[] => {
      const reading = readings.get(j.reading);
      if (!reading) return [];
      const time = timeSpan(j);
      const judgement = judgements.get(j.reading);
      const standing = judgement?.standing ?? j.standing;
      const voidReason = voidReasons.get(j.reading);
      return [
        {
          id: j.reading,
          ...(time && { time }),
          values: reading.record.values,
          status: j.status,
          ...(standing && { standing }),
          isCertain: judgement?.isCertain ?? false,
          toConfirm: judgement?.toConfirm ?? false,
          waits: j.status === 'held' ? j.holds.filter((h) => !h.isReleased).map((h) => h.sentence) : [],
          ...(voidReason !== undefined && { voidReason }),
          meterId: reading.meter.id,
          ...(j.lot !== undefined && { lot: j.lot }),
        },
      ];
    })
    .reverse();
}
