/** Values of the laboratory, to compare meters with. */
import { type Instant, instant } from '../core/instant.ts';
import type { Database } from './database.ts';

/** A value of the laboratory. */
export interface LabValue {
  readonly patientNo: number;
  /** When the sample was taken. */
  readonly at: Instant;
  readonly analyte: string;
  /** As given, with `<` or `>` if any. */
  readonly value: string;
  /** Its name, or empty. */
  readonly laboratory: string;
}

export interface StoredLabValue extends LabValue {
  readonly labNo: number;
}

export interface LabValues {
  /** Adds it, or replaces the value of the same person, moment and analyte. Tells which. */
  put(value: LabValue, by: string, at: Instant): 'added' | 'known' | 'changed';
  undo(labNo: number, at: Instant): boolean;
  /** Those not taken back, of one person or of all, by time. */
  list(patientNo?: number): StoredLabValue[];
}

interface LabRow {
  lab_no: number;
  patient_no: number;
  at_ms: number;
  analyte: string;
  value: string;
  laboratory: string;
}

/** The laboratory values of a store. */
export function makeLabValues(db: Database): LabValues {
  return {
    put(value, by, at) {
      const known = db
        .statement<LabRow & { undone_at: number | null }>(
          'SELECT * FROM lab_value WHERE patient_no = ? AND at_ms = ? AND analyte = ?',
        )
        .get(value.patientNo, value.at, value.analyte);
      if (known && known.undone_at === null && known.value === value.value && known.laboratory === value.laboratory)
        return 'known';
      db.statement(
        `INSERT INTO lab_value (patient_no, at_ms, analyte, value, laboratory, added_by, added_at)
          VALUES (:patient, :when, :analyte, :value, :laboratory, :by, :at)
          ON CONFLICT (patient_no, at_ms, analyte) DO UPDATE SET value = excluded.value,
            laboratory = excluded.laboratory, added_by = excluded.added_by, added_at = excluded.added_at,
            undone_at = NULL`,
      ).run({
        patient: value.patientNo,
        when: value.at,
        analyte: value.analyte,
        value: value.value,
        laboratory: value.laboratory,
        by,
        at,
      });
      return known && known.undone_at === null ? 'changed' : 'added';
    },
    undo: (labNo, at) =>
      db.statement('UPDATE lab_value SET undone_at = ? WHERE lab_no = ? AND undone_at IS NULL').run(at, labNo) > 0,
    list: (patientNo) =>
      db
        .statement<LabRow>(
          `SELECT * FROM lab_value WHERE undone_at IS NULL AND (:patient IS NULL OR patient_no = :patient)
            ORDER BY at_ms, lab_no`,
        )
        .all({ patient: patientNo ?? null })
        .map((r) => ({
          labNo: r.lab_no,
          patientNo: r.patient_no,
          at: instant(r.at_ms),
          analyte: r.analyte,
          value: r.value,
          laboratory: r.laboratory,
        })),
  };
}
