/**
 * The tables that are made from captures, as a whole: set aside, emptied, and compared row by row after they have been
 * made again. The copies are temporary tables of the connection.
 */
import type { Database } from './database.ts';

/** One row that is not as it was. `before` or `after` is absent where there was, or is, no such row. */
export interface Difference {
  readonly table: string;
  /** The row's key, such as `D17-3` or `D17-3 2`. */
  readonly key: string;
  readonly before?: Readonly<Record<string, unknown>>;
  readonly after?: Readonly<Record<string, unknown>>;
}

/** Derived tables with their keys, children before parents, so that rows can be deleted in this order. */
const DERIVED = [
  { table: 'placement', key: ['reading_id', 'version'] },
  { table: 'reading_value', key: ['reading_id', 'n'] },
  { table: 'incident', key: ['meter_no', 'source', 'n'] },
  { table: 'clock_event', key: ['download_id', 'n'] },
  { table: 'download_memory', key: ['download_id'] },
  { table: 'reading', key: ['reading_id'] },
  { table: 'download', key: ['download_id'] },
  { table: 'memory_state', key: ['meter_no'] },
  { table: 'clock_state', key: ['meter_no'] },
  { table: 'meter', key: ['meter_no'] },
] as const;

/** Sets the derived rows aside. Inside a transaction that is undone or ends with `differences`. */
export function copyDerived(db: Database): void {
  for (const { table } of DERIVED) db.script(`CREATE TEMP TABLE before_${table} AS SELECT * FROM main.${table}`);
}

/** Deletes the derived rows and forgets the order of arrival, which comes back as the captures are taken in again. */
export function emptyDerived(db: Database): void {
  // Rows of other tables may point to readings: they must point to something again when the transaction ends.
  db.script('PRAGMA defer_foreign_keys = ON');
  for (const { table } of DERIVED) db.script(`DELETE FROM main.${table}`);
  db.script('UPDATE capture SET arrival = NULL');
}

/** The rows that differ from those set aside, by table and key. Drops the copies. */
export function differences(db: Database): Difference[] {
  const found = DERIVED.flatMap(({ table, key }) => {
    const rows = (only: string, not: string) =>
      new Map(
        db
          .statement<Record<string, unknown>>(`SELECT * FROM ${only} EXCEPT SELECT * FROM ${not}`)
          .all()
          .map((row) => [key.map((column) => String(row[column])).join(' '), row]),
      );
    const before = rows(`temp.before_${table}`, `main.${table}`);
    const after = rows(`main.${table}`, `temp.before_${table}`);
    return [...new Set([...before.keys(), ...after.keys()])].sort().map((k): Difference => {
      const was = before.get(k);
      const is = after.get(k);
      return { table, key: k, ...(was ? { before: was } : {}), ...(is ? { after: is } : {}) };
    });
  });
  for (const { table } of DERIVED) db.script(`DROP TABLE temp.before_${table}`);
  return found;
}

/** A difference in one line: what was, what is, only the columns that differ. */
export function describeDifference({ table, key, before, after }: Difference): string {
  if (!before) return `${table} ${key}: is new`;
  if (!after) return `${table} ${key}: is gone`;
  const columns = Object.keys(after).filter((column) => before[column] !== after[column]);
  return `${table} ${key}: ${columns.map((c) => `${c} ${show(before[c])} -> ${show(after[c])}`).join(', ')}`;
}

const LONGEST = 60;

/** A cell, cut where it is long: the memory state holds whole images. */
function show(cell: unknown): string {
  const text = cell === null ? 'nothing' : String(cell);
  return text.length > LONGEST ? `${text.slice(0, LONGEST)}…` : text;
}
