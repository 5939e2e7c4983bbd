/**
 * The log of changes as outlets read it: one row for each version of a reading, written in the transaction of the change.
 * The content of a reading is put together by compose-outgoing.ts, and is always that of the newest version.
 */
import type { Instant } from '../core/instant.ts';
import type { ShownStatus } from '../core/outgoing.ts';
import type { ReadingId, ReadingKind } from '../core/reading.ts';
import { type Composer, makeComposer } from './compose-outgoing.ts';
import type { Database } from './database.ts';
import type { LoggedVersion } from './outlets.ts';

/** A row of the log with what tells whether an outlet wants it. */
export interface LogRow extends LoggedVersion {
  readonly status: ShownStatus;
  /** The newest version of this reading. */
  readonly newest: number;
  readonly kind: ReadingKind;
  /** Serial number of the meter. */
  readonly meterId: string;
}

/** An earlier version of a reading. */
export interface EarlierVersion extends LoggedVersion {
  readonly status: ShownStatus;
  /** Whose it was: the clinic's own id. */
  readonly patientId?: string;
}

export interface Outgoing {
  /** The newest row of the log; 0 where there is none. */
  lastSeq(): number;
  /** The last row before the first that came about at or after this moment. */
  seqBefore(moment: Instant): number;
  /** Rows behind `after`, in the order of the log. */
  page(after: number, limit: number): LogRow[];
  /** The row of a version. */
  row(version: LoggedVersion): LogRow | undefined;
  /** All versions of these readings, by reading and version. */
  versions(readings: readonly ReadingId[]): EarlierVersion[];
  /** The readings as they stand now. One of which nothing at all is left is not among them. */
  readonly compose: Composer;
}

interface LogTableRow {
  seq: number;
  reading_id: ReadingId;
  version: number;
  status: ShownStatus;
  newest: number;
  kind: ReadingKind;
  meter_id: string;
}

const LOG = `SELECT o.seq, o.reading_id, o.version, o.status, coalesce(j.version,
      (SELECT max(version) FROM outgoing WHERE reading_id = o.reading_id)) AS newest,
    coalesce(j.kind, t.kind, 'patient') AS kind, coalesce(m.meter_id, '') AS meter_id
  FROM outgoing o LEFT JOIN judged j ON j.reading_id = o.reading_id
  LEFT JOIN retired t ON t.reading_id = o.reading_id AND j.reading_id IS NULL
  LEFT JOIN meter m ON m.meter_no = coalesce(j.meter_no, t.meter_no)`;

const logRowOf = (r: LogTableRow): LogRow => ({
  seq: r.seq,
  reading: r.reading_id,
  version: r.version,
  status: r.status,
  newest: r.newest,
  kind: r.kind,
  meterId: r.meter_id,
});

/** The log and the content of a store. */
export function makeOutgoing(db: Database): Outgoing {
  return {
    lastSeq: () => db.statement<{ seq: number | null }>('SELECT max(seq) AS seq FROM outgoing').get()?.seq ?? 0,
    seqBefore: (moment) =>
      db
        .statement<{ seq: number }>(
          `SELECT coalesce((SELECT min(seq) - 1 FROM outgoing WHERE at >= ?), (SELECT max(seq) FROM outgoing), 0) AS seq`,
        )
        .get(moment)?.seq ?? 0,
    page: (after, limit) =>
      db.statement<LogTableRow>(`${LOG} WHERE o.seq > ? ORDER BY o.seq LIMIT ?`).all(after, limit).map(logRowOf),
    row({ reading, version }) {
      const row = db.statement<LogTableRow>(`${LOG} WHERE o.reading_id = ? AND o.version = ?`).get(reading, version);
      return row && logRowOf(row);
    },
    versions: (readings) =>
      db
        .statement<{
          seq: number;
          reading_id: ReadingId;
          version: number;
          status: ShownStatus;
          patient_id: string | null;
        }>(
          `SELECT o.seq, o.reading_id, o.version, o.status, p.patient_id FROM json_each(?) w
            JOIN outgoing o ON o.reading_id = w.value LEFT JOIN patient p USING (patient_no)
            ORDER BY w.key, o.version`,
        )
        .all(JSON.stringify(readings))
        .map((r) => ({
          seq: r.seq,
          reading: r.reading_id,
          version: r.version,
          status: r.status,
          ...(r.patient_id === null ? {} : { patientId: r.patient_id }),
        })),
    compose: makeComposer(db),
  };
}
