/**
 * Reads a table that a person exported from somewhere: CSV with a header row, comma or semicolon, as spreadsheets
 * write it. Strict about what stands in it: a column that is not known is an error and not ignored, and every problem
 * names its line.
 */
import { parse } from 'csv-parse/sync';
import { Fault } from '../../core/fault.ts';

/** One row below the header: cells by column name, trimmed; empty cells are absent. */
export interface TableRow {
  /** Line of the file, from 1, on which the row begins. */
  readonly line: number;
  readonly cells: Readonly<Record<string, string>>;
}

/** What is to become of one row. */
export interface RowFate {
  readonly line: number;
  /** What the row is about, such as a person's id. */
  readonly subject: string;
  readonly fate: 'added' | 'changed' | 'known' | 'wrong';
  /** Plain words: what will be added or changed, or what is wrong. */
  readonly detail: string;
}

/** What the library gives for a row: its cells, the text it was, with empty lines before it, and the line on which it ended. */
interface ParsedRow {
  readonly record: readonly string[];
  readonly raw: string;
  readonly info: { readonly lines: number };
}

const HINT = 'Save the table as CSV (UTF-8) with the column names in its first row, and try again with --dry-run.';

/**
 * The rows of a table. `columns` are those that may stand in it, `needed` those that must. `file` is for messages.
 * Throws IMPORT_WRONG for a text that is no table, an unknown column, one that is missing, or one that stands twice, and
 * for a table with more than `most` rows.
 */
export function readTable(
  bytes: Uint8Array,
  file: string,
  columns: readonly string[],
  needed: readonly string[],
  most = Number.POSITIVE_INFINITY,
): readonly TableRow[] {
  // One kind of line end, so that lines are counted as an editor shows them.
  const text = textOf(bytes).replace(/\r\n?/g, '\n');
  const head = text.split('\n').find((l) => l.trim() !== '') ?? '';
  const delimiter = count(head, ';') > count(head, ',') ? ';' : ',';
  let records: readonly ParsedRow[];
  try {
    const options = {
      delimiter,
      record_delimiter: '\n',
      info: true,
      raw: true,
      skip_empty_lines: true,
      skip_records_with_empty_values: true, // rows of nothing but separators, as spreadsheets leave them
      trim: true,
      ...(Number.isFinite(most) ? { to: most + 2 } : {}), // the header, and one row too many
    } as const;
    records = parse(text, options) as unknown as ParsedRow[]; // the library's types do not know of `info`
  } catch (cause) {
    const line = typeof cause === 'object' && cause !== null ? Reflect.get(cause, 'lines') : undefined;
    const where = typeof line === 'number' ? ` line ${line}` : '';
    throw new Fault('IMPORT_WRONG', `${file}${where} is not a table with one cell for each column`, HINT, { cause });
  }
  if (records.length > most + 1)
    throw new Fault(
      'IMPORT_WRONG',
      `${file} has more than ${most} rows; nothing was taken over`,
      'Take it in by parts, or whole with the import command of "tallydock".',
    );
  const header = records[0]?.record ?? [];
  // Columns without a name and without a cell are what separators at the end of lines make.
  const isUsed = header.map((name, i) => name !== '' || records.some(({ record }) => record[i] !== ''));
  const only = (record: readonly string[]): string[] => record.filter((_, i) => isUsed[i]);
  const names = only(header).map((name) => name.toLowerCase().replace(/[\s-]+/g, '_'));
  for (const [i, name] of names.entries()) {
    if (!columns.includes(name))
      throw new Fault(
        'IMPORT_WRONG',
        `${file} line 1: there is no column "${name}"; known are ${columns.join(', ')}`,
        HINT,
      );
    if (names.indexOf(name) < i) throw new Fault('IMPORT_WRONG', `${file} line 1: "${name}" stands twice`, HINT);
  }
  const missing = needed.find((name) => !names.includes(name));
  if (missing !== undefined)
    throw new Fault('IMPORT_WRONG', `${file} line 1: the column "${missing}" is missing`, HINT);
  return records.slice(1).map(({ record, raw, info }) => {
    const row = only(record);
    const cells = names.flatMap((name, i) => (row[i] ? [[name, row[i]] as const] : []));
    return { line: info.lines - count(raw.trim(), '\n'), cells: Object.fromEntries(cells) };
  });
}

const count = (text: string, char: string): number => text.split(char).length - 1;

/** UTF-8, with or without its mark; what is none is taken for Windows-1252, as older spreadsheets save it. */
function textOf(bytes: Uint8Array): string {
  try {
    return new TextDecoder('utf-8', { fatal: true }).decode(bytes);
  } catch {
    return new TextDecoder('windows-1252').decode(bytes);
  }
}

/** The fault of an import with rows that cannot be used; undefined where all can. */
export function importFault(file: string, fates: readonly RowFate[]): Fault | undefined {
  const wrong = fates.filter((f) => f.fate === 'wrong');
  const [first] = wrong;
  if (!first) return undefined;
  const others = wrong.length > 1 ? ` (and ${wrong.length - 1} more ${wrong.length === 2 ? 'row' : 'rows'})` : '';
  return new Fault(
    'IMPORT_WRONG',
    `${file} line ${first.line}: ${first.detail}${others}; nothing was taken over`,
    'Correct the table; --dry-run shows the fate of every row.',
  );
}
