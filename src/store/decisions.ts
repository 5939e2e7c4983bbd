/** What persons decided about readings. Nothing is ever overwritten: a decision that is taken back stays, marked. */
import { type Instant, instant } from '../core/instant.ts';
import type { ReadingId } from '../core/reading.ts';
import type { Database } from './database.ts';
import { joinFlags, splitFlags } from './row-values.ts';

/** One decision. `assign` without a person says that it is nobody of ours. */
export type Decision = {
  readonly reading: ReadingId;
  /** In the operator's words. */
  readonly reason: string;
  readonly by: string;
  readonly at: Instant;
} & (
  | { readonly kind: 'assign'; readonly patientNo?: number }
  /** `holds`: the reasons that were looked at; a reason that comes later holds the reading again. */
  | { readonly kind: 'release'; readonly holds: readonly string[] }
  | { readonly kind: 'void' }
  | { readonly kind: 'level'; readonly levelNo: number }
);

export type StoredDecision = Decision & {
  readonly decisionNo: number;
  readonly undone?: { readonly by: string; readonly at: Instant; readonly reason: string };
};

export interface Decisions {
  add(decision: Decision): number;
  /** Marks it as taken back; false where it was already, or is not there. */
  undo(decisionNo: number, by: string, at: Instant, reason: string): boolean;
  /** All decisions on these readings, in the order in which they were made, those taken back among them. */
  of(readings: readonly ReadingId[]): StoredDecision[];
}

interface Row {
  decision_no: number;
  reading_id: ReadingId;
  kind: Decision['kind'];
  patient_no: number | null;
  level_no: number | null;
  holds: string;
  reason: string;
  made_by: string;
  made_at: number;
  undone_by: string | null;
  undone_at: number | null;
  undone_why: string | null;
}

function decisionOf(r: Row): StoredDecision {
  const common = {
    decisionNo: r.decision_no,
    reading: r.reading_id,
    reason: r.reason,
    by: r.made_by,
    at: instant(r.made_at),
    ...(r.undone_at === null
      ? {}
      : { undone: { by: r.undone_by ?? '', at: instant(r.undone_at), reason: r.undone_why ?? '' } }),
  };
  switch (r.kind) {
    case 'assign':
      return { ...common, kind: 'assign', ...(r.patient_no === null ? {} : { patientNo: r.patient_no }) };
    case 'release':
      return { ...common, kind: 'release', holds: splitFlags(r.holds) };
    case 'void':
      return { ...common, kind: 'void' };
    case 'level':
      return { ...common, kind: 'level', levelNo: r.level_no ?? 0 };
  }
}

/** The decisions of a store. */
export function makeDecisions(db: Database): Decisions {
  return {
    add: (decision) =>
      db
        .statement<{ decision_no: number }>(
          `INSERT INTO decision (reading_id, kind, patient_no, level_no, holds, reason, made_by, made_at)
            VALUES (:reading, :kind, :patient, :level, :holds, :reason, :by, :at) RETURNING decision_no`,
        )
        .get({
          reading: decision.reading,
          kind: decision.kind,
          patient: decision.kind === 'assign' ? (decision.patientNo ?? null) : null,
          level: decision.kind === 'level' ? decision.levelNo : null,
          holds: decision.kind === 'release' ? joinFlags(decision.holds) : '',
          reason: decision.reason,
          by: decision.by,
          at: decision.at,
        })?.decision_no ?? 0,
    undo: (decisionNo, by, at, reason) =>
      db
        .statement(
          `UPDATE decision SET undone_by = ?, undone_at = ?, undone_why = ?
            WHERE decision_no = ? AND undone_at IS NULL`,
        )
        .run(by, at, reason, decisionNo) > 0,
    of: (readings) =>
      db
        .statement<Row>(
          'SELECT d.* FROM decision d JOIN json_each(?) w ON w.value = d.reading_id ORDER BY d.decision_no',
        )
        .all(JSON.stringify(readings))
        .map(decisionOf),
  };
}
