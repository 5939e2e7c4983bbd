/**
 * Takes from the store what the sheet of a meter's visit shows, as plain data. A visit is all downloads of the meter on
 * the local date of its newest one; what changed is what was not known after the download before that date.
 */

import { lotState } from '../clinic/lots/strip-lot.ts';
import type { OverwriteForecast } from '../clinic/meters/overwrite.ts';
import { dyingBatteries } from '../clinic/meters/rankings.ts';
import { METER_HABITS } from '../clinic/rules/meter-habits.ts';
import type { Policy } from '../clinic/rules/policy.ts';
import { Fault } from '../core/fault.ts';
import type { Instant } from '../core/instant.ts';
import { localDay } from '../core/local-words.ts';
import type { Incident } from '../core/placement.ts';
import type { StripLot } from '../core/strip-lot.ts';
import { type Zone, zoneOf } from '../core/zone.ts';
import type { StoredDownload } from '../store/downloads.ts';
import { isLentAt } from '../store/lends.ts';
import type { StoredMeter } from '../store/meters.ts';
import type { SettledReading } from '../store/readings.ts';
import type { Store } from '../store/store.ts';
import { openAfterDays } from './course-chart.ts';
import { forecastOf } from './forecast.ts';
import { gatherPatient, type PatientReport, type ValueRow } from './gather-patient.ts';
import type { TallyStroke } from './tally-picture.ts';

/** A stretch in which the person made no test for longer than planned, in local dates. */
export interface MissedStretch {
  readonly after: string;
  /** Absent where it lasts until the visit. */
  readonly before?: string;
  readonly days: number;
}

/** The lot of strips in use: that of the newest test which tells one. */
export interface LotInUse {
  readonly lot: string;
  readonly state: 'good' | 'expired' | 'unknown';
  readonly registered?: StripLot;
}

/** The whole of the sheet. */
export interface VisitReport {
  readonly now: Instant;
  readonly zone: string;
  readonly meter: Pick<StoredMeter, 'id' | 'model' | 'firmware' | 'capacity'>;
  /** The newest download. */
  readonly download: Pick<
    StoredDownload,
    'id' | 'at' | 'complete' | 'held' | 'vanished' | 'possiblyLost' | 'damagedLines' | 'clockOffS' | 'clockSet'
  >;
  /** The last download before the visit; absent at the first. */
  readonly before?: { readonly at: Instant };
  readonly strokes: readonly TallyStroke[];
  readonly new: number;
  /** The new tests that gave a value of the person, oldest first; of a shared meter none are listed. */
  readonly newValues: readonly ValueRow[];
  readonly newErrors: number;
  /** What happened to clock and memory since the download before. */
  readonly incidents: readonly Incident[];
  readonly powerLosses: number;
  readonly isBatteryDying: boolean;
  /** The person who has the meter; absent for a shared one. */
  readonly person?: Pick<PatientReport, 'patient' | 'course' | 'analyte'>;
  readonly missed: readonly MissedStretch[];
  /** Targets set since the download before. */
  readonly targetChanges: PatientReport['targets'];
  readonly lot?: LotInUse;
  readonly waits: readonly {
    readonly id: string;
    readonly sentences: readonly string[];
    /** The same with their stable words. */
    readonly reasons: readonly { readonly code: string; readonly sentence: string }[];
    readonly value: string;
  }[];
  readonly forecast: OverwriteForecast;
}

/** What to gather. */
export interface VisitAsk {
  /** Serial number. */
  readonly meterId: string;
  /** Needed only where two models share the serial number. */
  readonly model?: string;
  readonly now: Instant;
  readonly zone: string;
  readonly policy: Policy;
}

/** Gathers it. Throws METER_UNKNOWN for a meter that is not there, or NOT_POSSIBLE where two models share the serial number. */
export function gatherVisit(store: Store, ask: VisitAsk): VisitReport {
  const { now, zone: zoneName } = ask;
  const meter = meterOf(store, ask);
  const { meterNo } = meter;
  const zone = zoneOf(zoneName);
  const downloads = store.downloads.list(meterNo);
  const download = downloads.at(-1);
  if (!download) throw new Fault('NOT_POSSIBLE', `Meter ${meter.id} was never read`, 'Read it: tallydock collect');
  const day = localDay(download.at, zone);
  const visit = new Set(downloads.filter((d) => localDay(d.at, zone) === day).map((d) => d.id));
  const before = downloads.findLast((d) => !visit.has(d.id));
  const readings = store.readings.ofMeter(meterNo);
  const fresh = readings.filter((r) => visit.has(r.firstDownload));
  const { patientNo, report } = holderOf(store, ask, meter, download);
  const theirs = new Set<string>(fresh.map((r) => r.id));
  const all = store.incidents.list(meterNo);
  const losses = all.filter((i) => i.kind === 'power-loss');
  const lot = lotInUse(store, readings, localDay(now, zone));
  return {
    now,
    zone: zoneName,
    meter: {
      id: meter.id,
      model: meter.model,
      ...(meter.firmware !== undefined && { firmware: meter.firmware }),
      ...(meter.capacity !== undefined && { capacity: meter.capacity }),
    },
    download: pick(download),
    ...(before && { before: { at: before.at } }),
    strokes: strokesOf(readings, visit, download),
    new: fresh.length,
    newValues: report ? report.values.filter((row) => theirs.has(row.id)).toReversed() : [],
    newErrors: fresh.filter((r) => r.record.kind === 'error').length,
    incidents: all
      .filter((i) => before === undefined || (i.latest ?? now) > before.at)
      .map(({ kind, likelyCause, explanation, earliest, latest, sizeS }) => ({
        kind,
        likelyCause,
        explanation,
        ...(earliest !== undefined && { earliest }),
        ...(latest !== undefined && { latest }),
        ...(sizeS !== undefined && { sizeS }),
      })),
    powerLosses: losses.length,
    isBatteryDying:
      dyingBatteries(
        losses.map(({ earliest, latest }) => ({
          meter: meter.id,
          ...(earliest !== undefined && { earliest }),
          ...(latest !== undefined && { latest }),
        })),
        METER_HABITS,
      ).length > 0,
    ...(report && { person: { patient: report.patient, course: report.course, analyte: report.analyte } }),
    missed: report ? missedOf(report, before, download, zone) : [],
    targetChanges: report ? report.targets.filter((t) => before !== undefined && t.setAt > before.at) : [],
    ...(lot && { lot }),
    waits: waitsOf(store, meterNo, patientNo),
    forecast: forecastOf(store, meter, downloads, now),
  };
}

function meterOf(store: Store, { meterId, model }: VisitAsk): StoredMeter {
  const found = store.meters.list(meterId).filter((m) => model === undefined || m.model === model);
  const [meter, other] = found;
  if (!meter) throw new Fault('METER_UNKNOWN', `There is no meter "${meterId}"`, '"tallydock meters" lists them.');
  if (other)
    throw new Fault(
      'NOT_POSSIBLE',
      `${meter.model} and ${other.model} both have the serial number ${meterId}`,
      `Say which: --model "${meter.model}"`,
    );
  return meter;
}

/** Who has the meter at the visit. */
function holderOf(
  store: Store,
  { now, zone, policy }: VisitAsk,
  meter: StoredMeter,
  { at }: StoredDownload,
): { readonly patientNo?: number; readonly report?: PatientReport } {
  const lend = store.lends.list({ meterId: meter.id, model: meter.model }).findLast((lend) => isLentAt(lend, at));
  const person = lend && store.patients.byNumber(lend.patientNo);
  if (!person) return {};
  return { patientNo: person.patientNo, report: gatherPatient(store, { patientId: person.id, now, zone, policy }) };
}

/** The tests that a download told (`visit`: those whose tests are new), as far as the store knows which they were. */
export function strokesOf(
  readings: readonly SettledReading[],
  visit: ReadonlySet<string>,
  { known, complete }: StoredDownload,
): TallyStroke[] {
  const isNew = (r: SettledReading): boolean => visit.has(r.firstDownload);
  const held = readings.filter((r) => r.gone === undefined);
  const old = held.filter((r) => !isNew(r));
  // A transfer that broke off told some of the known ones only: the newest, as most meters begin with them.
  const told = new Set((complete ? old : old.slice(old.length - Math.min(known, old.length))).map((r) => r.id));
  return held.filter((r) => isNew(r) || told.has(r.id)).map((r) => ({ kind: r.record.kind, isNew: isNew(r) }));
}

function pick(d: StoredDownload): VisitReport['download'] {
  return {
    id: d.id,
    at: d.at,
    complete: d.complete,
    vanished: d.vanished,
    possiblyLost: d.possiblyLost,
    damagedLines: d.damagedLines,
    clockSet: d.clockSet,
    ...(d.held !== undefined && { held: d.held }),
    ...(d.clockOffS !== undefined && { clockOffS: d.clockOffS }),
  };
}

/** Stretches without a test that end after the download before. Tests that wait were made, so they count here. */
function missedOf(
  { course, values }: PatientReport,
  before: StoredDownload | undefined,
  { at }: StoredDownload,
  zone: Zone,
): MissedStretch[] {
  const days = values.flatMap((row) => (row.time && row.time.at <= at ? [localDay(row.time.at, zone)] : [])).toSorted();
  const since = before ? localDay(before.at, zone) : '';
  const isOpen = openAfterDays(course);
  const daysBetween = (a: string, b: string): number => Math.round((Date.parse(b) - Date.parse(a)) / 86_400_000);
  return days.flatMap((after, i): MissedStretch[] => {
    const next = days[i + 1];
    const end = next ?? localDay(at, zone);
    const length = daysBetween(after, end);
    if (length <= isOpen || end < since) return [];
    return [{ after, ...(next !== undefined && { before: next }), days: length }];
  });
}

function lotInUse(store: Store, readings: readonly SettledReading[], today: string): LotInUse | undefined {
  const record = readings.findLast((r) => r.record.kind !== 'error' && r.record.lot !== undefined)?.record;
  if (record?.lot === undefined) return undefined;
  const registered = store.lots.find(record.lot);
  const state = lotState(registered, today, record.lotExpiry);
  return { lot: record.lot, state, ...(registered && { registered }) };
}

/** What waits of this meter, and of the person who has it. */
function waitsOf(store: Store, meterNo: number, patientNo: number | undefined): VisitReport['waits'] {
  const held = store.judged
    .list({ status: 'held' })
    .filter((j) => j.meterNo === meterNo || (patientNo !== undefined && j.patientNo === patientNo));
  return held.map((j) => {
    const reasons = j.holds.filter((h) => !h.isReleased).map(({ code, sentence }) => ({ code, sentence }));
    return {
      id: j.reading,
      value: j.analyte === undefined ? j.kind : `${j.analyte} ${j.beyond ?? ''}${j.value ?? ''}`,
      sentences: reasons.map(({ sentence }) => sentence),
      reasons,
    };
  });
}
