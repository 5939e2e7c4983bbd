/** Who has which meter when, and who is expected when: what tells whose a reading is. */
import { type Instant, instant } from '../core/instant.ts';
import type { Database } from './database.ts';

/** A meter lent to a person. `from` belongs to the span, `to` does not. */
export interface Lend {
  /** Serial number as the meter says. */
  readonly meterId: string;
  /** Absent: whichever model has this serial number. */
  readonly model?: string;
  readonly patientNo: number;
  readonly from: Instant;
  /** Absent while it is still lent. */
  readonly to?: Instant;
}

/** True where a lend is in force at a moment. */
export const isLentAt = ({ from, to }: Lend, at: Instant): boolean => from <= at && (to === undefined || to > at);

export interface StoredLend extends Lend {
  readonly lendNo: number;
  readonly lentBy: string;
  readonly lentAt: Instant;
}

/** Which lends to list; all conditions hold together. */
export interface LendFilter {
  readonly meterId?: string;
  /** Leaves out lends of another model with the same serial number; one that names no model counts for all. */
  readonly model?: string;
  readonly patientNo?: number;
}

/** A person expected at a moment. */
export interface Appointment {
  readonly at: Instant;
  readonly patientNo: number;
}

export interface Lends {
  add(lend: Lend, by: string, at: Instant): number;
  /** Sets when a lent meter came back. */
  giveBack(lendNo: number, to: Instant): void;
  /** Takes a lend back as if it had never been; false where there is none such. */
  undo(lendNo: number, at: Instant): boolean;
  /** Lends that were not taken back, by meter and time. */
  list(filter?: LendFilter): StoredLend[];
}

export interface Appointments {
  /** Adds one; false where it was there. */
  add(appointment: Appointment): boolean;
  remove(appointment: Appointment): boolean;
  /** Those in [from, to), by time. */
  between(from: Instant, to: Instant): Appointment[];
}

interface LendRow {
  lend_no: number;
  meter_id: string;
  model: string | null;
  patient_no: number;
  from_ms: number;
  to_ms: number | null;
  lent_by: string;
  lent_at: number;
}

const lendOf = (r: LendRow): StoredLend => ({
  lendNo: r.lend_no,
  meterId: r.meter_id,
  ...(r.model === null ? {} : { model: r.model }),
  patientNo: r.patient_no,
  from: instant(r.from_ms),
  ...(r.to_ms === null ? {} : { to: instant(r.to_ms) }),
  lentBy: r.lent_by,
  lentAt: instant(r.lent_at),
});

/** The lends of a store. */
export function makeLends(db: Database): Lends {
  return {
    add: (lend, by, at) =>
      db
        .statement<{ lend_no: number }>(
          `INSERT INTO lend (meter_id, model, patient_no, from_ms, to_ms, lent_by, lent_at)
            VALUES (:meter, :model, :patient, :from, :to, :by, :at) RETURNING lend_no`,
        )
        .get({
          meter: lend.meterId,
          model: lend.model ?? null,
          patient: lend.patientNo,
          from: lend.from,
          to: lend.to ?? null,
          by,
          at,
        })?.lend_no ?? 0,
    giveBack: (lendNo, to) => void db.statement('UPDATE lend SET to_ms = ? WHERE lend_no = ?').run(to, lendNo),
    undo: (lendNo, at) =>
      db.statement('UPDATE lend SET undone_at = ? WHERE lend_no = ? AND undone_at IS NULL').run(at, lendNo) > 0,
    list: (filter = {}) =>
      db
        .statement<LendRow>(
          `SELECT * FROM lend WHERE undone_at IS NULL AND (:meter IS NULL OR meter_id = :meter)
            AND (:model IS NULL OR model IS NULL OR model = :model) AND (:patient IS NULL OR patient_no = :patient)
            ORDER BY meter_id, from_ms, lend_no`,
        )
        .all({ meter: filter.meterId ?? null, model: filter.model ?? null, patient: filter.patientNo ?? null })
        .map(lendOf),
  };
}

/** The appointments of a store. */
export function makeAppointments(db: Database): Appointments {
  return {
    add: ({ at, patientNo }) =>
      db.statement('INSERT INTO appointment VALUES (?, ?) ON CONFLICT DO NOTHING').run(at, patientNo) > 0,
    remove: ({ at, patientNo }) =>
      db.statement('DELETE FROM appointment WHERE at_ms = ? AND patient_no = ?').run(at, patientNo) > 0,
    between: (from, to) =>
      db
        .statement<{ at_ms: number; patient_no: number }>(
          'SELECT * FROM appointment WHERE at_ms >= ? AND at_ms < ? ORDER BY at_ms, patient_no',
        )
        .all(from, to)
        .map((r) => ({ at: instant(r.at_ms), patientNo: r.patient_no })),
  };
}
