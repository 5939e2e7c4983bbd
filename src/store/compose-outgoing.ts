/**
 * Puts readings together as outlets are handed them, as they stand now, from all the tables that hold a part of them: many
 * at once, with one question to each table.
 */
import { z } from 'zod';
import type { MeterIdentity } from '../core/download.ts';
import { type Instant, instant } from '../core/instant.ts';
import {
  type OutgoingPatient,
  type OutgoingReading,
  type PersonBasis,
  type ShownStatus,
  type Standing,
  TARGETED,
} from '../core/outgoing.ts';
import { type DownloadId, downloadOf, type ReadingId, type ReadingKind, type Value } from '../core/reading.ts';
import type { Database } from './database.ts';
import { type PlacementRow, placementOf } from './placements.ts';
import { splitFlags } from './row-values.ts';

/** A reading as it stands, with the numbers by which the store knows its person and its meter. */
export interface ComposedReading {
  readonly reading: OutgoingReading;
  readonly patientNo?: number;
  readonly meterNo: number;
}

/** Gives the readings of these ids; one of which nothing at all is left is not among them. */
export type Composer = (readings: readonly ReadingId[]) => Map<ReadingId, ComposedReading>;

interface BodyRow extends Omit<PlacementRow, 'flags' | 'basis' | 'reason' | 'version'> {
  reading_id: ReadingId;
  version: number;
  status: ShownStatus;
  holds: string;
  kind: ReadingKind;
  meter_no: number;
  patient_no: number | null;
  person_basis: PersonBasis | null;
  standing: Standing | null;
  level_no: number | null;
  judged_at: number | null;
  /** Of the value by which it is judged. */
  analyte: string | null;
  error_code: string | null;
  meter_time: string;
  lot: string | null;
  lot_expiry: string | null;
  operator: string | null;
  flags: string;
  slot: number | null;
  run_number: number | null;
  first_download: DownloadId;
  basis: PlacementRow['basis'] | null;
  reason: string;
  placing_flags: string;
}

/** What many readings share. */
interface DownloadFacts {
  readonly zone: string;
  readonly at: Instant;
  readonly meterNo: number;
  readonly clock?: { readonly gatewayAt: Instant; readonly meterOffS: number };
}

const BODIES = `SELECT j.reading_id, j.version, j.status, j.holds, j.kind, j.meter_no, j.patient_no,
    j.basis AS person_basis, j.standing, j.level_no, j.taken_at AS judged_at, j.analyte, r.error_code, r.meter_time, r.lot,
    r.lot_expiry, r.operator, r.flags, r.slot, r.run_number, r.first_download, p.taken_at, p.earliest, p.latest, p.basis,
    p.reason, p.flags AS placing_flags
  FROM json_each(?) w JOIN judged j ON j.reading_id = w.value JOIN reading r ON r.reading_id = w.value
  LEFT JOIN placement p ON p.reading_id = w.value
    AND p.version = (SELECT max(version) FROM placement WHERE reading_id = w.value)`;

const Holds = z.array(z.object({ code: z.string(), isReleased: z.boolean() }));
const Measured = z.array(z.object({ analyte: z.string(), value: z.string(), unit: z.string() }));

const list = (ids: Iterable<string | number>): string => JSON.stringify([...ids]);

/** A composer for a store. */
export function makeComposer(db: Database): Composer {
  const valuesOf = (readings: readonly ReadingId[]): Map<ReadingId, Value[]> => {
    const byId = new Map<ReadingId, Value[]>();
    // Put into their places here: sorting them there takes as long again.
    for (const { reading_id, n, analyte, value: shown, unit } of db
      .statement<Value & { reading_id: ReadingId; n: number }>(
        `SELECT v.reading_id, v.n, v.analyte, v.value, v.unit FROM json_each(?) w
          JOIN reading_value v ON v.reading_id = w.value`,
      )
      .all(list(readings))) {
      const value = { analyte, value: shown, unit };
      const known = byId.get(reading_id);
      if (known) known[n] = value;
      else {
        const values: Value[] = [];
        values[n] = value;
        byId.set(reading_id, values);
      }
    }
    return byId;
  };

  const downloadsOf = (ids: Iterable<DownloadId>): Map<DownloadId, DownloadFacts> =>
    new Map(
      db
        .statement<{
          download_id: DownloadId;
          zone: string;
          at: number;
          meter_no: number;
          clock_off_s: number | null;
          anchor: number | null;
        }>(
          `SELECT d.download_id, d.zone, d.at, d.meter_no, d.clock_off_s, (SELECT (e.from_ms + e.to_ms) / 2
              FROM clock_event e WHERE e.download_id = d.download_id AND e.kind = 'anchor' ORDER BY e.n LIMIT 1) AS anchor
            FROM json_each(?) w JOIN download d ON d.download_id = w.value`,
        )
        .all(list(ids))
        .map((d) => [
          d.download_id,
          {
            zone: d.zone,
            at: instant(d.at),
            meterNo: d.meter_no,
            ...(d.clock_off_s === null
              ? {}
              : { clock: { gatewayAt: instant(d.anchor ?? d.at), meterOffS: d.clock_off_s } }),
          },
        ]),
    );

  const metersOf = (numbers: Iterable<number>): Map<number, MeterIdentity> =>
    new Map(
      db
        .statement<{ meter_no: number; meter_id: string; model: string; firmware: string | null }>(
          `SELECT m.meter_no, m.meter_id, m.model, m.firmware FROM json_each(?) w JOIN meter m ON m.meter_no = w.value`,
        )
        .all(list(numbers))
        .map((m) => [
          m.meter_no,
          { id: m.meter_id, model: m.model, ...(m.firmware === null ? {} : { firmware: m.firmware }) },
        ]),
    );

  const patientsOf = (numbers: Iterable<number>): Map<number, OutgoingPatient> =>
    new Map(
      db
        .statement<{ patient_no: number; patient_id: string; name: string | null; birth_year: number | null }>(
          `SELECT p.patient_no, p.patient_id, p.name, p.birth_year
            FROM json_each(?) w JOIN patient p ON p.patient_no = w.value`,
        )
        .all(list(numbers))
        .map((p) => [
          p.patient_no,
          {
            id: p.patient_id,
            ...(p.name === null ? {} : { name: p.name }),
            ...(p.birth_year === null ? {} : { birthYear: p.birth_year }),
          },
        ]),
    );

  /** Targets of these people, the newest first, so that the first one that fits is in force. */
  const targetsOf = (numbers: Iterable<number>) => {
    const byPerson = new Map<number, { from_ms: number; low: string; high: string }[]>();
    for (const { patient_no, ...target } of db
      .statement<{ patient_no: number; from_ms: number; low: string; high: string }>(
        `SELECT t.patient_no, t.from_ms, t.low, t.high FROM json_each(?) w JOIN target t ON t.patient_no = w.value
          WHERE t.undone_at IS NULL ORDER BY t.from_ms DESC, t.target_no DESC`,
      )
      .all(list(numbers)))
      byPerson.set(patient_no, [...(byPerson.get(patient_no) ?? []), target]);
    return byPerson;
  };

  const levelsOf = (numbers: Iterable<number>) =>
    new Map(
      db
        .statement<{ level_no: number; lot: string; level: string; kind: 'liquid' | 'electronic' }>(
          `SELECT c.level_no, c.lot, c.level, c.kind FROM json_each(?) w JOIN control_level c ON c.level_no = w.value`,
        )
        .all(list(numbers))
        .map(({ level_no, ...control }) => [level_no, control]),
    );

  /** What is left of readings that are none any more, as void. */
  const retired = (readings: readonly ReadingId[]): [ReadingId, ComposedReading][] => {
    const rows = db
      .statement<{
        reading_id: ReadingId;
        version: number;
        patient_no: number | null;
        meter_no: number;
        kind: ReadingKind;
        taken_at: number | null;
        lot: string | null;
        measured: string;
      }>(
        `SELECT t.*, o.version, o.patient_no FROM json_each(?) w JOIN retired t ON t.reading_id = w.value
          JOIN outgoing o ON o.reading_id = w.value
            AND o.version = (SELECT max(version) FROM outgoing WHERE reading_id = w.value)
          WHERE NOT EXISTS (SELECT 1 FROM judged j JOIN reading r USING (reading_id) WHERE j.reading_id = w.value)`,
      )
      .all(list(readings));
    if (rows.length === 0) return [];
    const downloads = downloadsOf(new Set(rows.map((r) => downloadOf(r.reading_id))));
    const meters = metersOf(new Set(rows.map((r) => r.meter_no)));
    const people = patientsOf(new Set(rows.flatMap((r) => r.patient_no ?? [])));
    return rows.flatMap((r): [ReadingId, ComposedReading][] => {
      const download = downloads.get(downloadOf(r.reading_id));
      const meter = meters.get(r.meter_no);
      if (!download || !meter) return [];
      const patient = r.patient_no === null ? undefined : people.get(r.patient_no);
      const reading: OutgoingReading = {
        id: r.reading_id,
        version: r.version,
        status: 'void',
        holds: [],
        kind: r.kind,
        meter,
        ...(patient ? { patient } : {}),
        values: Measured.parse(JSON.parse(r.measured)),
        zone: download.zone,
        meterTime: '',
        ...(r.taken_at === null
          ? {}
          : { placement: { takenAt: instant(r.taken_at), basis: 'bounded' as const, reason: '', flags: [] } }),
        ...(r.lot === null ? {} : { lot: r.lot }),
        flags: [],
        firstDownload: downloadOf(r.reading_id),
        downloadedAt: download.at,
      };
      return [
        [r.reading_id, { reading, meterNo: r.meter_no, ...(r.patient_no === null ? {} : { patientNo: r.patient_no }) }],
      ];
    });
  };

  return (readings) => {
    const rows = db.statement<BodyRow>(BODIES).all(list(readings));
    const values = valuesOf(readings);
    const downloads = downloadsOf(new Set(rows.map((r) => r.first_download)));
    const meters = metersOf(new Set(rows.map((r) => r.meter_no)));
    const numbers = new Set(rows.flatMap((r) => r.patient_no ?? []));
    const people = patientsOf(numbers);
    const targets = targetsOf(numbers);
    const levels = levelsOf(new Set(rows.flatMap((r) => r.level_no ?? [])));
    const found = new Map<ReadingId, ComposedReading>();
    for (const r of rows) {
      const download = downloads.get(r.first_download);
      const meter = meters.get(r.meter_no);
      if (!download || !meter) continue;
      const patient = r.patient_no === null ? undefined : people.get(r.patient_no);
      const at = r.judged_at;
      const isTargeted = r.analyte !== null && TARGETED.includes(r.analyte);
      const target =
        r.patient_no === null || at === null || !isTargeted
          ? undefined
          : targets.get(r.patient_no)?.find((t) => t.from_ms <= at);
      const control = r.level_no === null ? undefined : levels.get(r.level_no);
      const own = splitFlags(r.flags);
      const placement =
        r.basis === null
          ? undefined
          : placementOf({
              taken_at: r.taken_at,
              earliest: r.earliest,
              latest: r.latest,
              basis: r.basis,
              reason: r.reason,
              flags: r.placing_flags,
            });
      const reading: OutgoingReading = {
        id: r.reading_id,
        version: r.version,
        status: r.status,
        holds:
          r.status === 'held' ? Holds.parse(JSON.parse(r.holds)).flatMap((h) => (h.isReleased ? [] : [h.code])) : [],
        kind: r.kind,
        meter,
        ...(patient ? { patient } : {}),
        ...(r.person_basis === null ? {} : { personBasis: r.person_basis }),
        values: values.get(r.reading_id) ?? [],
        ...(r.error_code === null ? {} : { errorCode: r.error_code }),
        ...(target ? { target: { low: target.low, high: target.high } } : {}),
        ...(r.standing === null ? {} : { standing: r.standing }),
        ...(placement ? { placement } : {}),
        zone: download.zone,
        meterTime: r.meter_time,
        ...(download.clock ? { clock: download.clock } : {}),
        ...(r.lot === null ? {} : { lot: r.lot }),
        ...(r.lot_expiry === null ? {} : { lotExpiry: r.lot_expiry }),
        ...(r.operator === null ? {} : { operator: r.operator }),
        flags: placement && placement.flags.length > 0 ? [...new Set([...own, ...placement.flags])] : own,
        ...(r.slot === null ? {} : { slot: r.slot }),
        ...(r.run_number === null ? {} : { runNumber: r.run_number }),
        firstDownload: r.first_download,
        downloadedAt: download.at,
        ...(control ? { control } : {}),
      };
      found.set(r.reading_id, {
        reading,
        meterNo: r.meter_no,
        ...(r.patient_no === null ? {} : { patientNo: r.patient_no }),
      });
    }
    if (found.size < readings.length)
      for (const [id, left] of retired(readings.filter((id) => !found.has(id)))) found.set(id, left);
    return found;
  };
}
