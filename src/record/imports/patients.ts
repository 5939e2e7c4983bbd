/**
 * Imports people from a table: adds those that are new, changes those that are known, and says of every row what
 * becomes of it. All rows or none: a table with a wrong row changes nothing.
 */
import { Fault } from '../../core/fault.ts';
import { formatInstant, type Instant, instant } from '../../core/instant.ts';
import type { PatientFacts } from '../../store/patients.ts';
import type { Store } from '../../store/store.ts';
import { patientOf, type RecordContext } from '../context.ts';
import { lendMeter } from '../lending.ts';
import { addPatient, changePatient, setTarget } from '../people.ts';
import { type ImportOptions, importRows, momentIn } from './import-rows.ts';
import type { RowFate, TableRow } from './table.ts';

/** The columns of the table; only `patient_id` must be there. */
const PATIENT_COLUMNS = [
  'patient_id',
  'name',
  'birth_year',
  'reason',
  'notes',
  'plan_days',
  'since',
  'target_low',
  'target_high',
  'target_from',
  'meter',
  'meter_from',
] as const;

/**
 * Imports people. Throws IMPORT_WRONG where the table is none, or, unless it is a dry run, where a row is wrong; then
 * nothing is changed.
 */
export function importPatients(
  store: Store,
  context: RecordContext,
  bytes: Uint8Array,
  options: ImportOptions,
): readonly RowFate[] {
  const seen = new Set<string>();
  const columns = { known: PATIENT_COLUMNS, needed: ['patient_id'] };
  return importRows(store, bytes, options, columns, (row) => {
    const id = row.cells['patient_id'] ?? '';
    if (id === '') throw new Fault('IMPORT_WRONG', 'the patient_id is missing', '');
    if (seen.has(id)) throw new Fault('IMPORT_WRONG', `${id} stands twice in the table`, '');
    seen.add(id);
    return takeRow(store, context, row, id, options.zone);
  });
}

function takeRow(store: Store, context: RecordContext, row: TableRow, id: string, zone: string): RowFate {
  const { cells } = row;
  const facts = factsOf(cells, id, zone);
  const known = store.patients.find(id);
  const said: string[] = [];
  if (known) {
    const { patientNo: _, ...before } = known;
    const after = { ...before, ...facts };
    const changed = (Object.keys(after) as (keyof PatientFacts)[]).filter((key) => before[key] !== after[key]);
    if (changed.length > 0) {
      changePatient(store, context, id, after);
      said.push(`other ${changed.map((key) => WORDS[key]).join(', ')}`);
    }
  } else {
    addPatient(store, context, facts);
    said.push('new person');
  }
  said.push(...takeTarget(store, context, cells, id, zone), ...takeMeter(store, context, cells, id, zone));
  return {
    line: row.line,
    subject: id,
    fate: known ? (said.length === 0 ? 'known' : 'changed') : 'added',
    detail: said.join('; '),
  };
}

const WORDS: Readonly<Record<keyof PatientFacts, string>> = {
  id: 'id',
  name: 'name',
  birthYear: 'year of birth',
  reason: 'reason for treatment',
  notes: 'notes',
  planDays: 'plan',
  since: 'begin of treatment',
  left: 'end',
};

function factsOf(cells: TableRow['cells'], id: string, zone: string): PatientFacts {
  const { name, reason, notes } = cells;
  const birthYear = whole(cells, 'birth_year', 1880, 2100);
  const planDays = whole(cells, 'plan_days', 1, 365);
  const since = momentIfGiven(cells, 'since', zone);
  return {
    id,
    ...(name === undefined ? {} : { name }),
    ...(birthYear === undefined ? {} : { birthYear }),
    ...(reason === undefined ? {} : { reason }),
    ...(notes === undefined ? {} : { notes }),
    ...(planDays === undefined ? {} : { planDays }),
    ...(since === undefined ? {} : { since }),
  };
}

function takeTarget(
  store: Store,
  context: RecordContext,
  cells: TableRow['cells'],
  id: string,
  zone: string,
): string[] {
  const low = cells['target_low']?.replace(',', '.');
  const high = cells['target_high']?.replace(',', '.');
  if (low === undefined && high === undefined) return [];
  if (low === undefined || high === undefined)
    throw new Fault('IMPORT_WRONG', 'target_low and target_high go together', '');
  const { patientNo } = patientOf(store, id);
  const from = momentIfGiven(cells, 'target_from', zone);
  const inForce = store.patients.targets(patientNo).findLast((t) => t.from <= (from ?? context.now));
  const isSame =
    inForce && inForce.low === low && inForce.high === high && (from === undefined || inForce.from === from);
  if (isSame) return [];
  // Without a date a first target counts for all readings that there are, and a later one from now on.
  const start = from ?? (inForce ? context.now : instant(0));
  setTarget(store, context, id, { low, high, from: start });
  return [`target ${low} to ${high}${from === undefined ? '' : ` from ${formatInstant(start).slice(0, 10)}`}`];
}

function takeMeter(store: Store, context: RecordContext, cells: TableRow['cells'], id: string, zone: string): string[] {
  const { meter } = cells;
  if (meter === undefined) return [];
  const { patientNo } = patientOf(store, id);
  const from = momentIfGiven(cells, 'meter_from', zone);
  const lends = store.lends.list({ meterId: meter, patientNo });
  if (lends.some((l) => l.to === undefined || l.from === from)) return [];
  // The same table imported again must not give a meter that has come back to the person who had it.
  if (from === undefined && lends.length > 0)
    throw new Fault(
      'IMPORT_WRONG',
      `meter ${meter} has come back from ${id}; say in meter_from since when it is lent again`,
      '',
    );
  lendMeter(store, context, { meterId: meter, patientId: id, from: from ?? context.now });
  return [`meter ${meter} lent`];
}

function whole(cells: TableRow['cells'], column: string, low: number, high: number): number | undefined {
  const text = cells[column];
  if (text === undefined) return undefined;
  const number = Number(text);
  if (Number.isInteger(number) && number >= low && number <= high) return number;
  throw new Fault('IMPORT_WRONG', `${column}: "${text}" is not a whole number from ${low} to ${high}`, '');
}

const momentIfGiven = (cells: TableRow['cells'], column: string, zone: string): Instant | undefined =>
  cells[column] === undefined ? undefined : momentIn(cells, column, zone);
