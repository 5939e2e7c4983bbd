/** What is believed of each reading now: whose it is, and whether it may go on; and the log of its versions. */
import { z } from 'zod';
import { type Instant, instant } from '../core/instant.ts';
import type { PersonBasis, ShownStatus, Standing } from '../core/outgoing.ts';
import type { DownloadId, ReadingId, ReadingKind } from '../core/reading.ts';
import type { Database } from './database.ts';

/** Why a reading waits, or waited until an operator released it. */
export interface StoredHold {
  /** Stable word. */
  readonly code: string;
  readonly sentence: string;
  /** An operator has looked at it. */
  readonly isReleased: boolean;
}

/** One reading as it was judged. */
export interface Judged {
  readonly reading: ReadingId;
  readonly meterNo: number;
  readonly kind: ReadingKind;
  readonly patientNo?: number;
  readonly basis?: PersonBasis;
  /** A person who is proposed and waits for a word. */
  readonly proposedNo?: number;
  readonly levelNo?: number;
  readonly status: ShownStatus;
  readonly holds: readonly StoredHold[];
  readonly takenAt?: Instant;
  readonly earliest?: Instant;
  readonly latest?: Instant;
  readonly lot?: string;
  readonly analyte?: string;
  /** The leading value as a number. */
  readonly value?: number;
  readonly beyond?: '<' | '>';
  readonly standing?: Standing;
  /** Of all that outlets are told of it. */
  readonly digest: string;
}

export interface StoredJudged extends Judged {
  /** From 1. */
  readonly version: number;
}

/** Which to list; all conditions hold together. */
export interface JudgedFilter {
  readonly patientNo?: number;
  readonly meterNo?: number;
  readonly kind?: ReadingKind;
  readonly lot?: string;
  readonly status?: ShownStatus;
  /** Best estimate at or after. */
  readonly since?: Instant;
  /** Best estimate before. */
  readonly until?: Instant;
}

/** A value with its best estimate of time. */
export interface DatedValue {
  readonly reading: ReadingId;
  readonly at: Instant;
  readonly value: number;
  /** The true value lies beyond it. */
  readonly beyond?: '<' | '>';
  readonly standing?: Standing;
}

export interface JudgedReadings {
  /** Stores it; a digest other than before makes a new version and a row in the log. True where it did. */
  put(judged: Judged, at: Instant): boolean;
  /** Notes that a reading is no longer one: two were found to be the same test. Outlets that have it are told. */
  retire(reading: ReadingId, at: Instant): void;
  get(reading: ReadingId): StoredJudged | undefined;
  /** Those of a list that are there. */
  of(readings: readonly ReadingId[]): StoredJudged[];
  /** By time, those without one last. */
  list(filter: JudgedFilter): StoredJudged[];
  /** The newest clear values of a person and analyte in [since, before), newest first. */
  valuesBefore(patientNo: number, analyte: string, before: Instant, since: Instant, most: number): DatedValue[];
  /** Patient tests of a meter that may have been made at a moment or after. */
  patientTestsSince(meterNo: number, since: Instant): ReadingId[];
  /** Readings of meters with this serial number that may have been made at a moment or after. */
  ofMeterSince(meterId: string, since: Instant): ReadingId[];
  /** Patient tests that are nobody's, with a best estimate of time in [from, to]. */
  nobodysBetween(from: Instant, to: Instant): ReadingId[];
  /** The person's newest reading with a time that is not struck out. */
  newestOf(patientNo: number): ReadingId | undefined;
  /** How many of a person's readings wait. */
  countHeldOf(patientNo: number): number;
  /** How many of the readings wait that a download told first. */
  countHeldFrom(download: DownloadId): number;
  /** How many wait. */
  countHeld(): number;
  /** Readings that were never judged, such as those of a store of an older program. Looks at all of them. */
  unjudged(limit: number): ReadingId[];
  /** Whether it was noted that all readings are judged; since then each is, as it is taken in. */
  areAllJudged(): boolean;
  noteAllJudged(): void;
  /** The settings by which all of them are judged, as they were noted; undefined where they never were. */
  settings(): string | undefined;
  noteSettings(settings: string): void;
}

interface Row {
  reading_id: ReadingId;
  version: number;
  meter_no: number;
  kind: ReadingKind;
  patient_no: number | null;
  basis: PersonBasis | null;
  proposed_no: number | null;
  level_no: number | null;
  status: ShownStatus;
  holds: string;
  taken_at: number | null;
  earliest: number | null;
  latest: number | null;
  lot: string | null;
  analyte: string | null;
  value: number | null;
  beyond: '<' | '>' | null;
  standing: Standing | null;
  digest: string;
}

const Holds = z.array(z.object({ code: z.string(), sentence: z.string(), isReleased: z.boolean() }));

const judgedOf = (r: Row): StoredJudged => ({
  reading: r.reading_id,
  version: r.version,
  meterNo: r.meter_no,
  kind: r.kind,
  ...(r.patient_no === null ? {} : { patientNo: r.patient_no }),
  ...(r.basis === null ? {} : { basis: r.basis }),
  ...(r.proposed_no === null ? {} : { proposedNo: r.proposed_no }),
  ...(r.level_no === null ? {} : { levelNo: r.level_no }),
  status: r.status,
  holds: r.holds === '[]' ? [] : Holds.parse(JSON.parse(r.holds)),
  ...(r.taken_at === null ? {} : { takenAt: instant(r.taken_at) }),
  ...(r.earliest === null ? {} : { earliest: instant(r.earliest) }),
  ...(r.latest === null ? {} : { latest: instant(r.latest) }),
  ...(r.lot === null ? {} : { lot: r.lot }),
  ...(r.analyte === null ? {} : { analyte: r.analyte }),
  ...(r.value === null ? {} : { value: r.value }),
  ...(r.beyond === null ? {} : { beyond: r.beyond }),
  ...(r.standing === null ? {} : { standing: r.standing }),
  digest: r.digest,
});

/** The judgements of a store. */
export function makeJudged(db: Database): JudgedReadings {
  const known = db.statement<Pick<Row, 'version' | 'digest'>>(
    'SELECT version, digest FROM judged WHERE reading_id = ?',
  );
  const put = db.statement(`INSERT OR REPLACE INTO judged VALUES (:reading, :version, :meter, :kind, :patient, :basis,
    :proposed, :level, :status, :holds, :taken, :earliest, :latest, :lot, :analyte, :value, :beyond, :standing, :digest)`);
  const newest = db.statement<{ version: number | null }>(
    'SELECT max(version) AS version FROM outgoing WHERE reading_id = ?',
  );
  const log = db.statement(
    'INSERT INTO outgoing (reading_id, version, at, status, patient_no) VALUES (:reading, :version, :at, :status, :patient)',
  );
  return {
    put(judged, at) {
      const before = known.get(judged.reading);
      const isNew = before?.digest !== judged.digest;
      // A reading that was retired and comes back goes on where its versions ended.
      const last = before?.version ?? newest.get(judged.reading)?.version ?? 0;
      const version = last + (isNew ? 1 : 0);
      const patient = judged.patientNo ?? null;
      put.run({
        reading: judged.reading,
        version,
        meter: judged.meterNo,
        kind: judged.kind,
        patient,
        basis: judged.basis ?? null,
        proposed: judged.proposedNo ?? null,
        level: judged.levelNo ?? null,
        status: judged.status,
        holds: JSON.stringify(judged.holds),
        taken: judged.takenAt ?? null,
        earliest: judged.earliest ?? null,
        latest: judged.latest ?? null,
        lot: judged.lot ?? null,
        analyte: judged.analyte ?? null,
        value: judged.value ?? null,
        beyond: judged.beyond ?? null,
        standing: judged.standing ?? null,
        digest: judged.digest,
      });
      if (isNew) log.run({ reading: judged.reading, version, at, status: judged.status, patient });
      return isNew;
    },
    retire(reading, at) {
      const row = db.statement<Row>('SELECT * FROM judged WHERE reading_id = ?').get(reading);
      if (!row) return;
      db.statement('DELETE FROM judged WHERE reading_id = ?').run(reading);
      log.run({ reading, version: row.version + 1, at, status: 'void', patient: row.patient_no });
    },
    get(reading) {
      const row = db.statement<Row>('SELECT * FROM judged WHERE reading_id = ?').get(reading);
      return row && judgedOf(row);
    },
    of: (readings) =>
      db
        .statement<Row>('SELECT j.* FROM json_each(?) w JOIN judged j ON j.reading_id = w.value ORDER BY w.key')
        .all(JSON.stringify(readings))
        .map(judgedOf),
    list(filter) {
      const where: string[] = ['true'];
      if (filter.patientNo !== undefined) where.push('patient_no = :patientNo');
      if (filter.meterNo !== undefined) where.push('meter_no = :meterNo');
      if (filter.kind !== undefined) where.push('kind = :kind');
      if (filter.lot !== undefined) where.push('lot = :lot');
      if (filter.status !== undefined) {
        // Those that wait have an index, which is used only where the word stands in the statement itself.
        where.push(filter.status === 'held' ? "status = 'held'" : 'status = :status');
      }
      if (filter.since !== undefined) where.push('taken_at >= :since');
      if (filter.until !== undefined) where.push('taken_at < :until');
      return db
        .statement<Row>(
          `SELECT * FROM judged WHERE ${where.join(' AND ')} ORDER BY taken_at IS NULL, taken_at, reading_id`,
        )
        .all({ ...filter })
        .map(judgedOf);
    },
    valuesBefore: (patientNo, analyte, before, since, most) =>
      db
        .statement<{
          reading: ReadingId;
          at: number;
          value: number;
          beyond: '<' | '>' | null;
          standing: Standing | null;
        }>(
          `SELECT reading_id AS reading, taken_at AS at, value, beyond, standing FROM judged WHERE patient_no = :patient AND taken_at >= :since AND taken_at < :before
            AND kind = 'patient' AND analyte = :analyte AND value IS NOT NULL AND status IN ('settled', 'provisional')
            ORDER BY taken_at DESC LIMIT :most`,
        )
        .all({ patient: patientNo, analyte, before, since, most })
        .map(({ reading, at, value, beyond, standing }) => ({
          reading,
          at: instant(at),
          value,
          ...(beyond === null ? {} : { beyond }),
          ...(standing === null ? {} : { standing }),
        })),
    patientTestsSince: (meterNo, since) =>
      db
        .statement<{ id: ReadingId }>(
          `SELECT reading_id AS id FROM judged
            WHERE meter_no = ? AND kind = 'patient' AND (latest IS NULL OR latest >= ?)`,
        )
        .all(meterNo, since)
        .map((r) => r.id),
    ofMeterSince: (meterId, since) =>
      db
        .statement<{ id: ReadingId }>(
          `SELECT j.reading_id AS id FROM judged j JOIN meter m USING (meter_no)
            WHERE m.meter_id = ? AND (j.latest IS NULL OR j.latest >= ?)`,
        )
        .all(meterId, since)
        .map((r) => r.id),
    nobodysBetween: (from, to) =>
      db
        .statement<{ id: ReadingId }>(
          `SELECT reading_id AS id FROM judged
            WHERE kind = 'patient' AND taken_at BETWEEN ? AND ? AND patient_no IS NULL`,
        )
        .all(from, to)
        .map((r) => r.id),
    newestOf: (patientNo) =>
      db
        .statement<{ id: ReadingId }>(
          `SELECT reading_id AS id FROM judged WHERE patient_no = ? AND taken_at IS NOT NULL AND kind = 'patient'
            AND status <> 'void' ORDER BY taken_at DESC LIMIT 1`,
        )
        .get(patientNo)?.id,
    countHeldOf: (patientNo) =>
      db
        .statement<{ n: number }>("SELECT count(*) AS n FROM judged WHERE patient_no = ? AND status = 'held'")
        .get(patientNo)?.n ?? 0,
    countHeldFrom: (download) =>
      db
        .statement<{ n: number }>(
          `SELECT count(*) AS n FROM judged j JOIN reading r USING (reading_id)
            WHERE j.status = 'held' AND r.first_download = ?`,
        )
        .get(download)?.n ?? 0,
    countHeld: () =>
      db.statement<{ n: number }>("SELECT count(*) AS n FROM judged WHERE status = 'held'").get()?.n ?? 0,
    unjudged: (limit) =>
      db
        .statement<{ id: ReadingId }>(
          `SELECT reading_id AS id FROM reading r
            WHERE NOT EXISTS (SELECT 1 FROM judged j WHERE j.reading_id = r.reading_id) LIMIT ?`,
        )
        .all(limit)
        .map((r) => r.id),
    areAllJudged: () => db.statement("SELECT 1 FROM meta WHERE key = 'all_judged'").get() !== undefined,
    noteAllJudged: () => void db.statement("INSERT OR IGNORE INTO meta VALUES ('all_judged', '1')").run(),
    settings: () => db.statement<{ value: string }>("SELECT value FROM meta WHERE key = 'judged_by'").get()?.value,
    noteSettings: (settings) => void db.statement("INSERT OR REPLACE INTO meta VALUES ('judged_by', ?)").run(settings),
  };
}
