/** Takes from the store what the report on a month shows, as plain data: counts by SQL, people one at a time. */

import type { Policy } from '../clinic/rules/policy.ts';
import { NICE_REASSESSMENT } from '../clinic/rules/reassessment-rules.ts';
import { quantile } from '../clinic/statistics/descriptive.ts';
import type { Estimate } from '../clinic/statistics/intervals.ts';
import { exactShare } from '../clinic/statistics/proportion.ts';
import { Fault } from '../core/fault.ts';
import { type Instant, instant } from '../core/instant.ts';
import { parseMoment } from '../core/local-moment.ts';
import { localDay } from '../core/local-words.ts';
import { isClear, type ShownStatus, type Standing } from '../core/outgoing.ts';
import type { IncidentKind } from '../core/placement.ts';
import { type Zone, zoneOf } from '../core/zone.ts';
import type { StoredPatient } from '../store/patients.ts';
import type { Store } from '../store/store.ts';
import { type ControlOutcomes, outcomesOfMonth } from './month-controls.ts';
import { eachStanding, type PersonStanding } from './month-people.ts';

/** A critical value. */
export interface CriticalRow {
  readonly reading: string;
  /** Absent where it is not known whose it is. */
  readonly person?: string;
  readonly name?: string;
  readonly takenAt: Instant;
  /** What was measured: a clinic may set critical values of others than the INR. */
  readonly analyte: string;
  readonly value: number;
  readonly beyond?: '<' | '>';
  readonly standing: Standing;
  readonly status: ShownStatus;
}

/** The whole of the report. */
export interface MonthReport {
  readonly month: string;
  readonly zone: string;
  readonly from: Instant;
  /** Where the month ends, or now where it is not over. */
  readonly until: Instant;
  readonly isOver: boolean;
  /** The last moment of it: as of then people are looked at. */
  readonly asOf: Instant;
  readonly analyte: string;
  /** Looked after in the month. */
  readonly people: number;
  /** Of whom a value counted in the month. */
  readonly peopleTested: number;
  readonly critical: readonly CriticalRow[];
  readonly tests: {
    /** Values of people and of `analyte` that count, by standing; what waits and what was struck out stand apart. */
    readonly standings: readonly { readonly standing: Standing; readonly tests: number }[];
    readonly clear: number;
    /** Values of people that count and are of another analyte. */
    readonly others: number;
    readonly held: number;
    readonly void: number;
    readonly errors: number;
    readonly errorShare?: Estimate;
  };
  readonly timeInRange: {
    readonly known: number;
    readonly unknown: number;
    /** Quartiles of the people's figures, 0 to 1; absent where there is none. */
    readonly quartiles?: { readonly low: number; readonly middle: number; readonly high: number };
    /** How many people in each tenth, from 0–10 % on; 100 % is in the last. */
    readonly tenths: readonly number[];
    readonly underShare: number;
    /** The lowest first. */
    readonly under: readonly { readonly id: string; readonly name?: string; readonly fraction: number }[];
  };
  /** People of whom a criterion is met. */
  readonly reassess: readonly Pick<PersonStanding, 'id' | 'name' | 'met' | 'criteria'>[];
  /** The longest first; those without any test last. */
  readonly overdue: readonly Pick<PersonStanding, 'id' | 'name' | 'overdueDays' | 'daysSinceTest' | 'isTooLong'>[];
  readonly holds: {
    /** Of all readings, now. */
    readonly open: number;
    readonly openByReason: readonly { readonly reason: string; readonly readings: number }[];
    /** Readings that were released in the month. */
    readonly released: number;
  };
  readonly downloads: {
    readonly all: number;
    readonly meters: number;
    readonly incomplete: number;
    readonly damaged: number;
    readonly possiblyLost: readonly { readonly download: string; readonly meter: string; readonly at: Instant }[];
  };
  readonly controls: ControlOutcomes;
  readonly incidents: readonly { readonly kind: IncidentKind; readonly count: number }[];
}

/** What to gather. */
export interface MonthAsk {
  /** `2026-03`; absent: the last one that is over. */
  readonly month?: string;
  readonly now: Instant;
  readonly zone: string;
  readonly policy: Policy;
}

/** Gathers it on one view of the store. Throws CALL_WRONG for what is no month. */
export function gatherMonth(store: Store, ask: MonthAsk): MonthReport {
  return store.db.read(() => gather(store, ask));
}

function gather(store: Store, { month: asked, now, zone, policy }: MonthAsk): MonthReport {
  const local = zoneOf(zone);
  const { month, from, end } = monthOf(asked, now, local);
  const until = instant(Math.max(from, Math.min(end, now)));
  const asOf = instant(Math.max(from, until - 1));
  const analyte = policy.targeted[0] ?? 'INR';
  const span = { from, until };
  const people = store.patients.list().filter((p) => isLookedAfter(p, from, until));
  return {
    month,
    zone,
    from,
    until,
    isOver: end <= now,
    asOf,
    analyte,
    people: people.length,
    peopleTested: peopleTested(store, span),
    critical: criticalOf(store, span),
    tests: testsOf(store, span, analyte),
    ...standingsOf(store, people, analyte, asOf, local),
    holds: holdsOf(store, span),
    downloads: downloadsOf(store, span),
    controls: outcomesOfMonth(store, from, until, (at) => localDay(at, local)),
    incidents: store.db
      .statement<{ kind: IncidentKind; count: number }>(
        `SELECT kind, count(*) AS count FROM incident WHERE coalesce(latest, earliest) >= :from
          AND coalesce(latest, earliest) < :until GROUP BY kind ORDER BY kind`,
      )
      .all(span),
  };
}

type Span = { readonly from: Instant; readonly until: Instant };

function monthOf(asked: string | undefined, now: Instant, zone: Zone): { month: string; from: Instant; end: Instant } {
  const today = localDay(now, zone);
  const month = asked ?? monthAfter(today.slice(0, 7), -1);
  const first = (text: string): Instant => {
    const read = /^\d{4}-\d{2}$/.test(text) ? parseMoment(`${text}-01`, zone) : undefined;
    if (read?.ok) return read.value;
    throw new Fault('CALL_WRONG', `--month: "${text}" is not a month`, 'Write 2026-03.');
  };
  const from = first(month);
  if (from > now) throw new Fault('CALL_WRONG', `--month: ${month} has not begun`, 'Write a month that has.');
  return { month, from, end: first(monthAfter(month, 1)) };
}

/** The month so many months later, `YYYY-MM`. */
const monthAfter = (month: string, months: number): string =>
  new Date(Date.UTC(Number(month.slice(0, 4)), Number(month.slice(5)) - 1 + months, 1)).toISOString().slice(0, 7);

const isLookedAfter = ({ since, left }: StoredPatient, from: Instant, until: Instant): boolean =>
  (since === undefined || since < until) && (left === undefined || left > from);

function peopleTested(store: Store, span: Span): number {
  return (
    store.db
      .statement<{ n: number }>(
        `SELECT count(DISTINCT patient_no) AS n FROM judged WHERE kind = 'patient' AND taken_at >= :from
          AND taken_at < :until AND status IN ('settled', 'provisional')`,
      )
      .get(span)?.n ?? 0
  );
}

function criticalOf(store: Store, span: Span): CriticalRow[] {
  return store.db
    .statement<{
      reading: string;
      person: string | null;
      name: string | null;
      at: number;
      analyte: string | null;
      value: number;
      beyond: '<' | '>' | null;
      standing: Standing;
      status: ShownStatus;
    }>(
      `SELECT j.reading_id AS reading, p.patient_id AS person, p.name, j.taken_at AS at, j.analyte, j.value, j.beyond, j.standing, j.status
        FROM judged j LEFT JOIN patient p ON p.patient_no = j.patient_no
        WHERE j.kind = 'patient' AND j.taken_at >= :from AND j.taken_at < :until AND j.status <> 'void'
          AND j.standing IN ('critical-low', 'critical-high') ORDER BY j.taken_at DESC, j.reading_id`,
    )
    .all(span)
    .map((r) => ({
      reading: r.reading,
      ...(r.person !== null && { person: r.person }),
      ...(r.name !== null && { name: r.name }),
      takenAt: instant(r.at),
      analyte: r.analyte ?? '',
      value: r.value,
      ...(r.beyond !== null && { beyond: r.beyond }),
      standing: r.standing,
      status: r.status,
    }));
}

function testsOf(store: Store, span: Span, analyte: string): MonthReport['tests'] {
  const counts = store.db
    .statement<{ kind: string; status: ShownStatus; standing: Standing | null; is_other: 0 | 1; n: number }>(
      `SELECT kind, status, standing, analyte IS NOT :analyte AS is_other, count(*) AS n FROM judged
        WHERE kind IN ('patient', 'error') AND taken_at >= :from AND taken_at < :until
        GROUP BY kind, status, standing, is_other`,
    )
    .all({ ...span, analyte });
  const sum = (is: (c: (typeof counts)[number]) => boolean): number =>
    counts.filter(is).reduce((total, { n }) => total + n, 0);
  const isCounted = (c: (typeof counts)[number]): boolean => c.kind === 'patient' && isClear(c.status);
  const errors = sum((c) => c.kind === 'error' && c.status !== 'void');
  const tried = errors + sum((c) => c.kind === 'patient' && c.status !== 'void');
  const errorShare = exactShare(errors, tried, 0.95);
  return {
    standings: (['critical-low', 'below', 'in', 'above', 'critical-high', 'no-target'] as const).map((standing) => ({
      standing,
      tests: sum((c) => isCounted(c) && c.is_other === 0 && (c.standing ?? 'no-target') === standing),
    })),
    clear: sum((c) => isCounted(c) && c.is_other === 0),
    others: sum((c) => isCounted(c) && c.is_other === 1),
    held: sum((c) => c.kind === 'patient' && c.status === 'held'),
    void: sum((c) => c.kind === 'patient' && c.status === 'void'),
    errors,
    ...(errorShare && { errorShare }),
  };
}

function standingsOf(
  store: Store,
  people: readonly StoredPatient[],
  analyte: string,
  asOf: Instant,
  zone: Zone,
): Pick<MonthReport, 'timeInRange' | 'reassess' | 'overdue'> {
  const fractions: number[] = [];
  const tenths = new Array<number>(10).fill(0);
  const under: { id: string; name?: string; fraction: number }[] = [];
  const reassess: MonthReport['reassess'][number][] = [];
  const overdue: MonthReport['overdue'][number][] = [];
  eachStanding(store, people, { analyte, asOf, localDate: (at) => localDay(at, zone) }, (standing) => {
    const { id, name, timeInRange: figure, met, criteria, overdueDays, daysSinceTest, isTooLong } = standing;
    const who = { id, ...(name !== undefined && { name }) };
    if (figure.kind === 'known') {
      const { fraction } = figure;
      fractions.push(fraction);
      const tenth = Math.min(9, Math.floor(fraction * 10));
      tenths[tenth] = (tenths[tenth] ?? 0) + 1;
      if (fraction < NICE_REASSESSMENT.timeInRangeUnder) under.push({ ...who, fraction });
    }
    if (met.length > 0) reassess.push({ ...who, met, criteria });
    if (overdueDays > 0 || isTooLong)
      overdue.push({ ...who, overdueDays, isTooLong, ...(daysSinceTest !== undefined && { daysSinceTest }) });
  });
  const at = (p: number): number => quantile(fractions, p);
  return {
    timeInRange: {
      known: fractions.length,
      unknown: people.length - fractions.length,
      ...(fractions.length > 0 && { quartiles: { low: at(0.25), middle: at(0.5), high: at(0.75) } }),
      tenths,
      underShare: NICE_REASSESSMENT.timeInRangeUnder,
      under: under.sort((a, b) => a.fraction - b.fraction || (a.id < b.id ? -1 : 1)),
    },
    reassess,
    overdue: overdue.sort((a, b) => b.overdueDays - a.overdueDays || (a.id < b.id ? -1 : 1)),
  };
}

function holdsOf(store: Store, span: Span): MonthReport['holds'] {
  return {
    open: store.judged.countHeld(),
    openByReason: store.db
      .statement<{ reason: string; readings: number }>(
        `SELECT json_extract(h.value, '$.code') AS reason, count(*) AS readings
          FROM judged j JOIN json_each(j.holds) h WHERE j.status = 'held' AND NOT json_extract(h.value, '$.isReleased')
          GROUP BY reason ORDER BY readings DESC, reason`,
      )
      .all(),
    released:
      store.db
        .statement<{ n: number }>(
          `SELECT count(DISTINCT reading_id) AS n FROM decision WHERE kind = 'release' AND undone_at IS NULL
            AND made_at >= :from AND made_at < :until`,
        )
        .get(span)?.n ?? 0,
  };
}

function downloadsOf(store: Store, span: Span): MonthReport['downloads'] {
  const counts = store.db
    .statement<{ n: number; meters: number; incomplete: number | null; damaged: number | null }>(
      `SELECT count(*) AS n, count(DISTINCT meter_no) AS meters, sum(NOT complete) AS incomplete,
        sum(damaged_lines > 0) AS damaged FROM download WHERE at >= :from AND at < :until`,
    )
    .get(span);
  return {
    all: counts?.n ?? 0,
    meters: counts?.meters ?? 0,
    incomplete: counts?.incomplete ?? 0,
    damaged: counts?.damaged ?? 0,
    possiblyLost: store.db
      .statement<{ download: string; meter: string; at: number }>(
        `SELECT d.download_id AS download, m.meter_id AS meter, d.at FROM download d JOIN meter m USING (meter_no)
          WHERE d.at >= :from AND d.at < :until AND d.possibly_lost ORDER BY d.at`,
      )
      .all(span)
      .map((r) => ({ ...r, at: instant(r.at) })),
  };
}
