/** Imports the day's appointments from a table. All rows or none. */
import type { Store } from '../../store/store.ts';
import { patientOf, type RecordContext } from '../context.ts';
import { addAppointments } from '../lending.ts';
import { type ImportOptions, importRows, momentIn } from './import-rows.ts';
import type { RowFate } from './table.ts';

/** The columns of an appointment list. */
const APPOINTMENT_COLUMNS = ['time', 'patient_id'] as const;

/** Imports appointments: local time and person. Throws like `importPatients`. */
export function importAppointments(
  store: Store,
  context: RecordContext,
  bytes: Uint8Array,
  options: ImportOptions,
): readonly RowFate[] {
  const columns = { known: APPOINTMENT_COLUMNS, needed: APPOINTMENT_COLUMNS };
  return importRows(store, bytes, options, columns, (row) => {
    const { patientNo, id } = patientOf(store, row.cells['patient_id'] ?? '');
    const at = momentIn(row.cells, 'time', options.zone);
    const added = addAppointments(store, context, [{ at, patientNo }]);
    return { line: row.line, subject: id, fate: added > 0 ? 'added' : 'known', detail: row.cells['time'] ?? '' };
  });
}
