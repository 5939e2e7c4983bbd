/**
 * One reading as rows of CSV, for the export and for the outlet: RFC 4180, one row for each value. Pure, and a contract:
 * columns are only ever added at the end.
 */
import { formatSeconds, type Instant } from '../../core/instant.ts';
import type { Placement } from '../../core/placement.ts';
import type { TestRecord } from '../../core/reading.ts';
import type { ListedReading } from '../../store/readings.ts';

/** The columns in their order. README says what each holds. */
export const CSV_COLUMNS = [
  'reading_id',
  'meter_id',
  'meter_model',
  'patient_id',
  'kind',
  'analyte',
  'value',
  'unit',
  'slot',
  'run_number',
  'meter_time',
  'taken_at',
  'earliest',
  'latest',
  'time_basis',
  'flags',
  'lot',
  'lot_expiry',
  'operator',
  'status',
  'first_download',
  'downloaded_at',
] as const;

/** What a row needs to know of a reading. */
export interface ExportedReading
  extends Pick<ListedReading, 'id' | 'meter' | 'flags' | 'shown' | 'firstDownload' | 'downloadedAt'> {
  readonly placement?: Placement;
  readonly record: Pick<
    TestRecord,
    | 'kind'
    | 'values'
    | 'errorCode'
    | 'slot'
    | 'runNumber'
    | 'meterTimeText'
    | 'lot'
    | 'lotExpiry'
    | 'operator'
    | 'patientId'
  >;
  /** Whose it is, where that is known here: this id stands in the row in place of the one keyed into the meter. */
  readonly person?: { readonly id: string };
}

/** The header row with its line end. */
export const csvHeader = (): string => `${CSV_COLUMNS.join(',')}\r\n`;

/** The rows of one reading, as one text. */
export const csvRows = (reading: ExportedReading): string => rowsOf(reading, []).join('');

/**
 * The rows of one reading, each with its line end: one for each value, in the meter's order, each with `more` cells at
 * its end. An error test has one row whose analyte, value and unit are empty and whose flags hold `error:CODE`.
 */
export function rowsOf(reading: ExportedReading, more: readonly string[]): string[] {
  const { record, placement } = reading;
  const patient = reading.person?.id ?? record.patientId;
  const before = [reading.id, reading.meter.id, reading.meter.model, patient, record.kind].map(textCell).join(',');
  const after = [
    plain(record.slot),
    plain(record.runNumber),
    textCell(record.meterTimeText),
    moment(placement?.takenAt, 'round'),
    moment(placement?.earliest, 'floor'),
    moment(placement?.latest, 'ceil'),
    placement?.basis ?? '',
    textCell(flagText(reading)),
    textCell(record.lot),
    textCell(record.lotExpiry),
    textCell(record.operator),
    reading.shown,
    textCell(reading.firstDownload),
    formatSeconds(reading.downloadedAt, 'floor'),
    ...more,
  ].join(',');
  const values = record.values.length > 0 ? record.values : [{ analyte: '', value: '', unit: '' }];
  return values.map((v) => `${before},${textCell(v.analyte)},${valueCell(v.value)},${textCell(v.unit)},${after}\r\n`);
}

/** Flags separated by spaces; a space inside a flag becomes `_` so that the cell can be taken apart again. */
function flagText({ record, flags }: ExportedReading): string {
  const error = record.kind === 'error' ? [`error:${record.errorCode ?? 'unknown'}`] : [];
  return [...flags, ...error].map((flag) => flag.replace(/\s/g, '_')).join(' ');
}

const plain = (value: number | undefined): string => (value === undefined ? '' : String(value));

const moment = (at: Instant | undefined, rounding: 'floor' | 'ceil' | 'round'): string =>
  at === undefined ? '' : formatSeconds(at, rounding);

const DECIMAL = /^[<>]?[+-]?\d+(\.\d+)?$/;

/** A measured value exactly as the meter gave it; only a text that is no decimal could be a formula. */
const valueCell = (value: string): string => (DECIMAL.test(value) ? value : textCell(value));

/**
 * A text cell that no spreadsheet takes for a formula: one that begins with `-`, `+`, `=`, `@`, tab or CR gets an
 * apostrophe in front, which spreadsheets show as text. Quoted where RFC 4180 section 2 (6, 7) asks for it.
 */
export function textCell(text: string | undefined): string {
  if (text === undefined) return '';
  const safe = /^[-+=@\t\r]/.test(text) ? `'${text}` : text;
  return /[",\r\n]/.test(safe) ? `"${safe.replaceAll('"', '""')}"` : safe;
}
