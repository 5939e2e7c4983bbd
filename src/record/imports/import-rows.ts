/** What every import of a table does: takes the rows one by one and says what becomes of each; all rows or none. */
import { Fault } from '../../core/fault.ts';
import type { Instant } from '../../core/instant.ts';
import { parseMoment } from '../../core/local-moment.ts';
import type { Store } from '../../store/store.ts';
import { importFault, type RowFate, readTable, type TableRow } from './table.ts';

/** How a table is imported. */
export interface ImportOptions {
  /** For messages. */
  readonly file: string;
  /** IANA zone in which dates of the table are meant. */
  readonly zone: string;
  /** Only tell the fate of every row. */
  readonly isDryRun: boolean;
  /** A table with more rows is refused: so that who waits for others is never kept for long. Absent: no limit. */
  readonly mostRows?: number;
}

/**
 * Imports a table, each row by `take`; a Fault that it throws makes the row a wrong one. `columns` are those that may
 * stand in the table and those that must. Throws IMPORT_WRONG where the table is none or too long, or, unless it is a dry run, where
 * a row is wrong; then nothing is changed.
 */
export function importRows(
  store: Store,
  bytes: Uint8Array,
  options: ImportOptions,
  columns: { readonly known: readonly string[]; readonly needed: readonly string[] },
  take: (row: TableRow) => RowFate,
): readonly RowFate[] {
  const rows = readTable(bytes, options.file, columns.known, columns.needed, options.mostRows);
  const work = (): readonly RowFate[] =>
    rows.map((row) => {
      try {
        return take(row);
      } catch (thrown) {
        if (!(thrown instanceof Fault)) throw thrown;
        return { line: row.line, subject: row.cells['patient_id'] ?? '', fate: 'wrong', detail: thrown.message };
      }
    });
  if (options.isDryRun) return store.db.rehearse(work);
  return store.db.write(() => {
    const fates = work();
    const fault = importFault(options.file, fates);
    if (fault) throw fault;
    return fates;
  });
}

/** The moment in a cell; an empty cell is none. Throws IMPORT_WRONG with the column's name. */
export function momentIn(cells: TableRow['cells'], column: string, zone: string): Instant {
  const read = parseMoment(cells[column] ?? '', zone);
  if (read.ok) return read.value;
  throw new Fault('IMPORT_WRONG', `${column}: ${read.problem}`, '');
}
