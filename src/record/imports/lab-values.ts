/** Imports values of the laboratory from a table. All rows or none. */
import type { Store } from '../../store/store.ts';
import { patientOf, type RecordContext } from '../context.ts';
import { putLabValue } from '../registers.ts';
import { type ImportOptions, importRows, momentIn } from './import-rows.ts';
import type { RowFate } from './table.ts';

/** The columns of a list of laboratory values; `analyte` is INR and `laboratory` empty where they are not given. */
const LAB_COLUMNS = ['time', 'patient_id', 'value', 'analyte', 'laboratory'] as const;

/** Imports values of the laboratory. Throws like `importPatients`. */
export function importLabValues(
  store: Store,
  context: RecordContext,
  bytes: Uint8Array,
  options: ImportOptions,
): readonly RowFate[] {
  const columns = { known: LAB_COLUMNS, needed: ['time', 'patient_id', 'value'] };
  return importRows(store, bytes, options, columns, (row) => {
    const { patientNo, id } = patientOf(store, row.cells['patient_id'] ?? '');
    const at = momentIn(row.cells, 'time', options.zone);
    const analyte = (row.cells['analyte'] ?? 'INR').toUpperCase();
    const value = (row.cells['value'] ?? '').replace(',', '.');
    const laboratory = row.cells['laboratory'] ?? '';
    const fate = putLabValue(store, context, { patientNo, at, analyte, value, laboratory });
    return { line: row.line, subject: id, fate, detail: `${analyte} ${value} of ${row.cells['time'] ?? ''}` };
  });
}
