/** The people whose readings are looked after, and their target ranges. */
import { type Instant, instant } from '../core/instant.ts';
import type { Database } from './database.ts';

/** What is known of a person. Everything but the id is optional. */
export interface PatientFacts {
  /** The clinic's own id. */
  readonly id: string;
  readonly name?: string;
  readonly birthYear?: number;
  /** Reason for treatment, in the clinic's words. */
  readonly reason?: string;
  readonly notes?: string;
  /** A test is planned every so many days. */
  readonly planDays?: number;
  /** When treatment began. */
  readonly since?: Instant;
  /** No longer looked after since. */
  readonly left?: Instant;
}

export interface StoredPatient extends PatientFacts {
  /** Number in this store. */
  readonly patientNo: number;
}

/** A target range as it was entered. */
export interface StoredTarget {
  readonly targetNo: number;
  readonly patientNo: number;
  readonly from: Instant;
  /** Limits as written, inclusive. */
  readonly low: string;
  readonly high: string;
  readonly setBy: string;
  readonly setAt: Instant;
}

export interface Patients {
  /** Adds a person; gives the number. The id must be free. */
  add(facts: PatientFacts, at: Instant): number;
  /** Replaces everything but the number. */
  change(patientNo: number, facts: PatientFacts): void;
  find(id: string): StoredPatient | undefined;
  byNumber(patientNo: number): StoredPatient | undefined;
  /** Everybody, by id. */
  list(): StoredPatient[];
  count(): number;
  addTarget(target: Omit<StoredTarget, 'targetNo'>): number;
  /** The targets of a person that were not taken back, oldest first; of two from the same moment the later entered counts and the other is left out. */
  targets(patientNo: number): StoredTarget[];
  /** Takes a target back; false where there is no such target. */
  undoTarget(targetNo: number, at: Instant): boolean;
}

interface PatientRow {
  patient_no: number;
  patient_id: string;
  name: string | null;
  birth_year: number | null;
  reason: string | null;
  notes: string | null;
  plan_days: number | null;
  since_ms: number | null;
  left_ms: number | null;
}

interface TargetRow {
  target_no: number;
  patient_no: number;
  from_ms: number;
  low: string;
  high: string;
  set_by: string;
  set_at: number;
}

const patientOf = (r: PatientRow): StoredPatient => ({
  patientNo: r.patient_no,
  id: r.patient_id,
  ...(r.name === null ? {} : { name: r.name }),
  ...(r.birth_year === null ? {} : { birthYear: r.birth_year }),
  ...(r.reason === null ? {} : { reason: r.reason }),
  ...(r.notes === null ? {} : { notes: r.notes }),
  ...(r.plan_days === null ? {} : { planDays: r.plan_days }),
  ...(r.since_ms === null ? {} : { since: instant(r.since_ms) }),
  ...(r.left_ms === null ? {} : { left: instant(r.left_ms) }),
});

const targetOf = (r: TargetRow): StoredTarget => ({
  targetNo: r.target_no,
  patientNo: r.patient_no,
  from: instant(r.from_ms),
  low: r.low,
  high: r.high,
  setBy: r.set_by,
  setAt: instant(r.set_at),
});

const binding = (facts: PatientFacts) => ({
  id: facts.id,
  name: facts.name ?? null,
  birth: facts.birthYear ?? null,
  reason: facts.reason ?? null,
  notes: facts.notes ?? null,
  plan: facts.planDays ?? null,
  since: facts.since ?? null,
  left: facts.left ?? null,
});

/** The people of a store. */
export function makePatients(db: Database): Patients {
  const one = (where: string, key: string | number): StoredPatient | undefined => {
    const row = db.statement<PatientRow>(`SELECT * FROM patient WHERE ${where} = ?`).get(key);
    return row && patientOf(row);
  };
  return {
    add: (facts, at) =>
      db
        .statement<{ patient_no: number }>(
          `INSERT INTO patient (patient_id, name, birth_year, reason, notes, plan_days, since_ms, left_ms, added_at)
            VALUES (:id, :name, :birth, :reason, :notes, :plan, :since, :left, :at) RETURNING patient_no`,
        )
        .get({ ...binding(facts), at })?.patient_no ?? 0,
    change: (patientNo, facts) =>
      void db
        .statement(
          `UPDATE patient SET patient_id = :id, name = :name, birth_year = :birth, reason = :reason, notes = :notes,
            plan_days = :plan, since_ms = :since, left_ms = :left WHERE patient_no = :no`,
        )
        .run({ ...binding(facts), no: patientNo }),
    find: (id) => one('patient_id', id),
    byNumber: (patientNo) => one('patient_no', patientNo),
    list: () => db.statement<PatientRow>('SELECT * FROM patient ORDER BY patient_id').all().map(patientOf),
    count: () => db.statement<{ n: number }>('SELECT count(*) AS n FROM patient').get()?.n ?? 0,
    addTarget: (target) =>
      db
        .statement<{ target_no: number }>(
          `INSERT INTO target (patient_no, from_ms, low, high, set_by, set_at)
            VALUES (:patientNo, :from, :low, :high, :setBy, :setAt) RETURNING target_no`,
        )
        .get({ ...target })?.target_no ?? 0,
    targets: (patientNo) =>
      db
        .statement<TargetRow>(
          `SELECT * FROM target t WHERE patient_no = ? AND undone_at IS NULL AND NOT EXISTS (
              SELECT 1 FROM target later WHERE later.patient_no = t.patient_no AND later.from_ms = t.from_ms
              AND later.undone_at IS NULL AND later.target_no > t.target_no)
            ORDER BY from_ms`,
        )
        .all(patientNo)
        .map(targetOf),
    undoTarget: (targetNo, at) =>
      db.statement('UPDATE target SET undone_at = ? WHERE target_no = ? AND undone_at IS NULL').run(at, targetNo) > 0,
  };
}
