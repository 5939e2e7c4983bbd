/** Readings: every test once, with its values. Written by the intake, listed for people and exports. */
import type { MeterIdentity } from '../core/download.ts';
import { type Instant, instant } from '../core/instant.ts';
import { meterTimeOf, wall } from '../core/meter-time.ts';
import type { ShownStatus } from '../core/outgoing.ts';
import type { Placement } from '../core/placement.ts';
import type { DownloadId, ReadingId, ReadingKind, TestRecord, Value } from '../core/reading.ts';
import type { ChangedReadings } from './changed-readings.ts';
import type { Database } from './database.ts';
import { type PlacementRow, placementOf } from './placements.ts';
import { joinFlags, readTexts, splitFlags } from './row-values.ts';
import { statusOf } from './status.ts';

/** A reading as settling left it. */
export interface SettledReading {
  readonly id: ReadingId;
  readonly meterNo: number;
  /** Place in the meter's own order of tests, from 0. */
  readonly position: number;
  /** The download that its id names. */
  readonly firstDownload: DownloadId;
  /** The download earliest in time that told it. */
  readonly earliestDownload: DownloadId;
  /** As told; place and slot are those of the first download. `open` is not kept. */
  readonly record: TestRecord;
  readonly status: 'settled' | 'provisional';
  /** How it left the meter's memory; absent while it may still be there. */
  readonly gone?: 'deleted' | 'overwritten' | 'vanished';
  readonly conflictWith?: ReadingId;
}

/** A reading with all that lists, exports and `explain` show of it. */
export interface ListedReading extends SettledReading {
  readonly meter: Pick<MeterIdentity, 'id' | 'model'>;
  /** The newest version; absent only while a download is being taken in. */
  readonly placement?: Placement & { readonly version: number };
  /** The meter's flags and the gateway's, without repeats. */
  readonly flags: readonly string[];
  readonly shown: ShownStatus;
  /** Of what outlets are told of it; absent only while a download is being taken in. */
  readonly version?: number;
  /** Whose it is, where that is known here. */
  readonly person?: { readonly patientNo: number; readonly id: string };
  /** When the first download began. */
  readonly downloadedAt: Instant;
  /** IANA zone of the dock at which it was first read. */
  readonly zone: string;
}

/** Which readings to list; all conditions hold together. */
export interface ReadingFilter {
  /** Serial number of the meter. */
  readonly meter?: string;
  /** Whose it is: the clinic's own id where that is known here, else the identifier keyed into the meter. */
  readonly patient?: string;
  /** Best estimate at or after this; a reading without one is left out. */
  readonly since?: Instant;
  /** Best estimate before this; a reading without one is left out. */
  readonly until?: Instant;
  readonly kind?: ReadingKind;
}

export interface Readings {
  add(reading: SettledReading): void;
  /** Replaces everything of a reading but its id. */
  replace(reading: SettledReading): void;
  /** The same where the rows would differ; leaves them alone otherwise. */
  replaceIfChanged(old: SettledReading, reading: SettledReading): void;
  /** Moves a reading in its meter's order. */
  move(id: ReadingId, position: number): void;
  /** Drops a reading with its values and placements; what outlets need to take it back is kept. */
  drop(id: ReadingId): void;
  /** All readings of a meter in its order of tests. */
  ofMeter(meterNo: number): SettledReading[];
  get(id: ReadingId): ListedReading | undefined;
  /** Those of a list that are there, in its order. */
  list(ids: readonly ReadingId[]): ListedReading[];
  /** Those of a list that are control tests. */
  controlsAmong(ids: readonly ReadingId[]): ReadingId[];
  /** Those for which this identifier was keyed into the meter; without one, all that there are. */
  idsKeyed(patientId?: string): ReadingId[];
  /** Readings in pages, ordered by meter (model, serial number), then by the meter's order of tests. */
  pages(filter: ReadingFilter, size?: number): Generator<readonly ListedReading[], void>;
  count(meterNo: number): number;
}

interface ReadingRow {
  reading_id: ReadingId;
  meter_no: number;
  position: number;
  first_download: DownloadId;
  earliest_download: DownloadId;
  place: string;
  slot: number | null;
  run_number: number | null;
  meter_time: string;
  wall: number | null;
  resolution_ms: number | null;
  kind: ReadingKind;
  error_code: string | null;
  lot: string | null;
  lot_expiry: string | null;
  operator: string | null;
  keyed_patient: string | null;
  flags: string;
  loss_count: number | null;
  extra: string | null;
  status: 'settled' | 'provisional';
  gone: 'deleted' | 'overwritten' | 'vanished' | null;
  conflict_with: ReadingId | null;
}

interface ValueRow extends Value {
  reading_id: ReadingId;
}

type ListedRow = ReadingRow &
  Omit<PlacementRow, 'flags' | 'version' | 'basis'> & {
    version: number | null;
    basis: PlacementRow['basis'];
    placing_flags: string;
    meter_id: string;
    model: string;
    downloaded_at: number;
    zone: string;
    judged_status: ShownStatus | null;
    judged_version: number | null;
    patient_no: number | null;
    person_id: string | null;
  };

function recordOf(r: ReadingRow, values: readonly Value[]): TestRecord {
  return {
    place: r.place,
    ...(r.slot === null ? {} : { slot: r.slot }),
    ...(r.run_number === null ? {} : { runNumber: r.run_number }),
    meterTimeText: r.meter_time,
    ...(r.wall === null || r.resolution_ms === null ? {} : { meterTime: meterTimeOf(wall(r.wall), r.resolution_ms) }),
    kind: r.kind,
    values,
    ...(r.error_code === null ? {} : { errorCode: r.error_code }),
    ...(r.lot === null ? {} : { lot: r.lot }),
    ...(r.lot_expiry === null ? {} : { lotExpiry: r.lot_expiry }),
    ...(r.operator === null ? {} : { operator: r.operator }),
    ...(r.keyed_patient === null ? {} : { patientId: r.keyed_patient }),
    flags: splitFlags(r.flags),
    ...(r.loss_count === null ? {} : { lossCount: r.loss_count }),
    ...(r.extra === null ? {} : { extra: readTexts(r.extra) }),
  };
}

const readingOf = (r: ReadingRow, values: readonly Value[]): SettledReading => ({
  id: r.reading_id,
  meterNo: r.meter_no,
  position: r.position,
  firstDownload: r.first_download,
  earliestDownload: r.earliest_download,
  record: recordOf(r, values),
  status: r.status,
  ...(r.gone === null ? {} : { gone: r.gone }),
  ...(r.conflict_with === null ? {} : { conflictWith: r.conflict_with }),
});

function listedOf(r: ListedRow, values: readonly Value[]): ListedReading {
  const reading = readingOf(r, values);
  const placement =
    r.version === null ? undefined : { ...placementOf({ ...r, flags: r.placing_flags }), version: r.version };
  const flags = [...new Set([...reading.record.flags, ...(placement?.flags ?? [])])];
  return {
    ...reading,
    meter: { id: r.meter_id, model: r.model },
    ...(placement ? { placement } : {}),
    flags,
    shown: r.judged_status ?? statusOf(reading.status, flags),
    ...(r.judged_version === null ? {} : { version: r.judged_version }),
    ...(r.patient_no === null || r.person_id === null ? {} : { person: { patientNo: r.patient_no, id: r.person_id } }),
    downloadedAt: instant(r.downloaded_at),
    zone: r.zone,
  };
}

const binding = ({ id, meterNo, position, firstDownload, earliestDownload, record, ...rest }: SettledReading) => ({
  id,
  meter: meterNo,
  position,
  first: firstDownload,
  earliest: earliestDownload,
  place: record.place,
  slot: record.slot ?? null,
  run: record.runNumber ?? null,
  stamp: record.meterTimeText,
  wall: record.meterTime?.wall ?? null,
  resolution: record.meterTime?.resolutionMs ?? null,
  kind: record.kind,
  error: record.errorCode ?? null,
  lot: record.lot ?? null,
  expiry: record.lotExpiry ?? null,
  operator: record.operator ?? null,
  patient: record.patientId ?? null,
  flags: joinFlags(record.flags),
  loss: record.lossCount ?? null,
  extra: record.extra ? JSON.stringify(record.extra) : null,
  status: rest.status,
  gone: rest.gone ?? null,
  conflict: rest.conflictWith ?? null,
});

const NEWEST = `LEFT JOIN placement p ON p.reading_id = r.reading_id
    AND p.version = (SELECT max(version) FROM placement WHERE reading_id = r.reading_id)`;

/** Whose a reading is, where that is known here. */
const PERSON = `LEFT JOIN judged j ON j.reading_id = r.reading_id LEFT JOIN patient w ON w.patient_no = j.patient_no`;

/** The readings whose ids stand in a JSON list, in its order. */
const LISTED = `SELECT r.*, p.version, p.taken_at, p.earliest, p.latest, p.basis, p.reason, p.flags AS placing_flags,
    m.meter_id, m.model, d.at AS downloaded_at, d.zone, j.status AS judged_status, j.version AS judged_version,
    j.patient_no, w.patient_id AS person_id
  FROM json_each(?) wanted JOIN reading r ON r.reading_id = wanted.value
  JOIN meter m USING (meter_no) JOIN download d ON d.download_id = r.first_download ${NEWEST}
  ${PERSON} ORDER BY wanted.key`;

const PAGE = 1000;

/** The readings of a store. */
export function makeReadings(db: Database, changed: ChangedReadings): Readings {
  const insert =
    db.statement(`INSERT INTO reading VALUES (:id, :meter, :position, :first, :earliest, :place, :slot, :run,
    :stamp, :wall, :resolution, :kind, :error, :lot, :expiry, :operator, :patient, :flags, :loss, :extra, :status, :gone,
    :conflict)`);
  const update = db.statement(`UPDATE reading SET meter_no = :meter, position = :position, first_download = :first,
    earliest_download = :earliest, place = :place, slot = :slot, run_number = :run, meter_time = :stamp, wall = :wall,
    resolution_ms = :resolution, kind = :kind, error_code = :error, lot = :lot, lot_expiry = :expiry,
    operator = :operator, keyed_patient = :patient, flags = :flags, loss_count = :loss, extra = :extra, status = :status,
    gone = :gone, conflict_with = :conflict WHERE reading_id = :id`);
  const insertValue = db.statement('INSERT INTO reading_value VALUES (?, ?, ?, ?, ?)');
  const valuesOf = db.statement<ValueRow>(
    `SELECT v.reading_id, v.analyte, v.value, v.unit FROM reading_value v
      JOIN json_each(?) wanted ON wanted.value = v.reading_id ORDER BY v.reading_id, v.n`,
  );

  const addValues = (reading: SettledReading): void => {
    for (const [n, v] of reading.record.values.entries()) insertValue.run(reading.id, n, v.analyte, v.value, v.unit);
  };
  /** The values of many readings with one question. */
  const valuesById = (rows: readonly ReadingRow[]): Map<ReadingId, Value[]> => {
    const byId = new Map<ReadingId, Value[]>(rows.map((r) => [r.reading_id, []]));
    for (const { reading_id, ...value } of valuesOf.all(JSON.stringify([...byId.keys()])))
      byId.get(reading_id)?.push(value);
    return byId;
  };
  const withValues = <R extends ReadingRow, T>(
    rows: readonly R[],
    make: (row: R, values: readonly Value[]) => T,
  ): T[] => {
    const values = valuesById(rows);
    return rows.map((r) => make(r, values.get(r.reading_id) ?? []));
  };

  const listed = (ids: readonly ReadingId[]): ListedReading[] =>
    withValues(db.statement<ListedRow>(LISTED).all(JSON.stringify(ids)), listedOf);
  const replace = (reading: SettledReading): void => {
    changed.note(reading.id);
    update.run(binding(reading));
    db.statement('DELETE FROM reading_value WHERE reading_id = ?').run(reading.id);
    addValues(reading);
  };
  /** Everything that the rows of a reading hold, as one text. */
  const rowsOf = (reading: SettledReading): string =>
    JSON.stringify([binding(reading), reading.record.values.map((v) => [v.analyte, v.value, v.unit])]);

  return {
    add(reading) {
      changed.note(reading.id);
      insert.run(binding(reading));
      addValues(reading);
    },
    replace,
    replaceIfChanged(old, reading) {
      if (rowsOf(old) !== rowsOf(reading)) replace(reading);
    },
    move: (id, position) => void db.statement('UPDATE reading SET position = ? WHERE reading_id = ?').run(position, id),
    drop(id) {
      changed.note(id);
      // Outlets that have it must be able to name what they take back.
      db.statement(
        `INSERT OR REPLACE INTO retired SELECT r.reading_id, r.meter_no, r.kind, j.taken_at, r.lot, (
            SELECT json_group_array(json_object('analyte', v.analyte, 'value', v.value, 'unit', v.unit) ORDER BY v.n)
            FROM reading_value v WHERE v.reading_id = r.reading_id)
          FROM reading r JOIN judged j USING (reading_id) WHERE r.reading_id = ?`,
      ).run(id);
      db.statement('DELETE FROM reading WHERE reading_id = ?').run(id);
    },
    ofMeter: (meterNo) =>
      withValues(
        db.statement<ReadingRow>('SELECT * FROM reading WHERE meter_no = ? ORDER BY position').all(meterNo),
        readingOf,
      ),
    get: (id) => listed([id])[0],
    list: listed,
    controlsAmong: (ids) =>
      db
        .statement<{ id: ReadingId }>(
          `SELECT r.reading_id AS id FROM json_each(?) wanted JOIN reading r ON r.reading_id = wanted.value
            WHERE r.kind = 'control'`,
        )
        .all(JSON.stringify(ids))
        .map((r) => r.id),
    idsKeyed: (patientId) =>
      (patientId === undefined
        ? db.statement<{ id: ReadingId }>('SELECT reading_id AS id FROM reading').all()
        : db.statement<{ id: ReadingId }>('SELECT reading_id AS id FROM reading WHERE keyed_patient = ?').all(patientId)
      ).map((r) => r.id),
    *pages(filter, size = PAGE) {
      const where: string[] = ['true'];
      if (filter.meter !== undefined) where.push('m.meter_id = :meter');
      if (filter.patient !== undefined) where.push('coalesce(w.patient_id, r.keyed_patient) = :patient');
      if (filter.kind !== undefined) where.push('r.kind = :kind');
      if (filter.since !== undefined) where.push('p.taken_at >= :since');
      if (filter.until !== undefined) where.push('p.taken_at < :until');
      const isTimed = filter.since !== undefined || filter.until !== undefined;
      // All ids at once: a download taken in between two pages may move positions, and no reading may be missed for it.
      const ids = db
        .statement<{ id: ReadingId }>(
          `SELECT r.reading_id AS id FROM meter m JOIN reading r USING (meter_no) ${isTimed ? NEWEST : ''}
            ${filter.patient === undefined ? '' : PERSON}
            WHERE ${where.join(' AND ')} ORDER BY m.model, m.meter_id, r.position`,
        )
        .all({ ...filter })
        .map((row) => row.id);
      for (let from = 0; from < ids.length; from += size) yield listed(ids.slice(from, from + size));
    },
    count: (meterNo) =>
      db.statement<{ n: number }>('SELECT count(*) AS n FROM reading WHERE meter_no = ?').get(meterNo)?.n ?? 0,
  };
}
