/** Imports the day's appointments, and the values of the laboratory, from tables. All rows or none. */
import { Fault } from '../../core/fault.ts';
import { parseMoment } from '../../core/local-moment.ts';
import type { Store } from '../../store/store.ts';
import { patientOf, type RecordContext } from '../context.ts';
import { addAppointments } from '../lending.ts';
import { putLabValue } from '../registers.ts';
import type { ImportOptions } from './patients.ts';
import { importFault, type RowFate, readTable, type TableRow } from './table.ts';

/** The columns of an appointment list. */
export const APPOINTMENT_COLUMNS = ['time', 'patient_id'] as const;
/** The columns of a list of laboratory values; `analyte` is INR and `laboratory` empty where they are not given. */
export const LAB_COLUMNS = ['time', 'patient_id', 'value', 'analyte', 'laboratory'] as const;

/** Imports appointments: local time and person. Throws like `importPatients`. */
export function importAppointments(
  store: Store,
  context: RecordContext,
  bytes: Uint8Array,
  options: ImportOptions,
): readonly RowFate[] {
  return importRows(store, bytes, options, APPOINTMENT_COLUMNS, APPOINTMENT_COLUMNS, (row) => {
    const { patientNo, id } = patientOf(store, row.cells['patient_id'] ?? '');
    const at = momentIn(row, options.zone);
    const added = addAppointments(store, context, [{ at, patientNo }]);
    return { line: row.line, subject: id, fate: added > 0 ? 'added' : 'known', detail: row.cells['time'] ?? '' };
  });
}

/** Imports values of the laboratory. Throws like `importPatients`. */
export function importLabValues(
  store: Store,
  context: RecordContext,
  bytes: Uint8Array,
  options: ImportOptions,
): readonly RowFate[] {
  return importRows(store, bytes, options, LAB_COLUMNS, ['time', 'patient_id', 'value'], (row) => {
    const { patientNo, id } = patientOf(store, row.cells['patient_id'] ?? '');
    const at = momentIn(row, options.zone);
    const analyte = (row.cells['analyte'] ?? 'INR').toUpperCase();
    const value = (row.cells['value'] ?? '').replace(',', '.');
    const laboratory = row.cells['laboratory'] ?? '';
    const fate = putLabValue(store, context, { patientNo, at, analyte, value, laboratory });
    return { line: row.line, subject: id, fate, detail: `${analyte} ${value} of ${row.cells['time'] ?? ''}` };
  });
}

function momentIn(row: TableRow, zone: string) {
  const read = parseMoment(row.cells['time'] ?? '', zone);
  if (read.ok) return read.value;
  throw new Fault('IMPORT_WRONG', `time: ${read.problem}`, '');
}

function importRows(
  store: Store,
  bytes: Uint8Array,
  options: ImportOptions,
  columns: readonly string[],
  needed: readonly string[],
  take: (row: TableRow) => RowFate,
): readonly RowFate[] {
  const rows = readTable(bytes, options.file, columns, needed);
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
