/**
 * E1394 (LIS02-A2) records: the text between two CR as fields, repeats and components, and back. All nine types, the
 * delimiters that the header declares, escapes. Strict in what it writes, tolerant and exact in what it reads; what a
 * field means is not its business.
 */
import { bad, Fault, good, type Parsed } from '../../core/fault.ts';
import { type Delimiters, USUAL_DELIMITERS } from './delimiters.ts';
import { escapeText, unescapeText } from './escapes.ts';

/** Header, patient, query, order, result, comment, manufacturer, scientific, terminator. */
export type RecordType = 'H' | 'P' | 'Q' | 'O' | 'R' | 'C' | 'M' | 'S' | 'L';
const TYPES = 'HPQORCMSL';
const CONTROL = /\p{Cc}/u;

/** A plain text, or repeats of components where the field has more than one of either. */
export type AstmField = string | readonly (readonly string[])[];

/** A record. `fields[0]` is the type, so field n of the standard is `fields[n - 1]`; no empty fields at the end. */
export interface AstmRecord {
  readonly type: RecordType;
  readonly fields: readonly AstmField[];
}

/** Reads one record's text (without its CR). A header is read with the delimiters that it declares itself. */
export function parseRecord(text: string, d: Delimiters): Parsed<AstmRecord> {
  const type = text.charAt(0);
  if (text === '' || !TYPES.includes(type) || (text.length > 1 && text.charAt(1) !== d.field))
    return bad(`"${text.slice(0, 20)}" is not a record of E1394`);
  const fields: AstmField[] = text.split(d.field);
  while (fields.length > 1 && fields[fields.length - 1] === '') fields.pop();
  // Most records hold nothing but plain fields: those are done.
  if (text.includes(d.component) || text.includes(d.repeat) || text.includes(d.escape)) {
    const isRaw = type === 'M'; // E1394 knows no escapes in manufacturer records
    for (let i = type === 'H' ? 2 : 1; i < fields.length; i++) fields[i] = parseField(fields[i] as string, d, isRaw);
  }
  return good({ type: type as RecordType, fields });
}

function parseField(text: string, d: Delimiters, isRaw: boolean): AstmField {
  const plain = (part: string): string => (isRaw ? part : unescapeText(part, d));
  if (!text.includes(d.component) && !text.includes(d.repeat)) return plain(text);
  return text.split(d.repeat).map((repeat) => repeat.split(d.component).map(plain));
}

/**
 * The text of a record, without its CR and without empty fields at the end. Throws INTERNAL where E1394 has no way to
 * write it: a text with a delimiter or control character in an M record, or a record whose first field is not its type.
 */
export function writeRecord(record: AstmRecord, d: Delimiters = USUAL_DELIMITERS): string {
  if (record.fields[0] !== record.type) throw notWritable('its first field is not its type');
  const plain = (text: string): string => {
    if (record.type !== 'M') return escapeText(text, d);
    const isPlain = ![d.field, d.repeat, d.component].some((mark) => text.includes(mark)) && !CONTROL.test(text);
    if (!isPlain) throw notWritable('E1394 has no escapes in M records');
    return text;
  };
  const fields = record.fields.map((field, i) => {
    if (record.type === 'H' && i === 1) return d.repeat + d.component + d.escape;
    if (typeof field === 'string') return plain(field);
    return field.map((repeat) => repeat.map(plain).join(d.component)).join(d.repeat);
  });
  while (fields.length > 1 && fields[fields.length - 1] === '') fields.pop();
  return fields.join(d.field);
}

const notWritable = (why: string): Fault =>
  new Fault('INTERNAL', `An E1394 record cannot be written: ${why}`, 'Please report this.');

/** A record from its type and its fields from the second on: `record('R', '1', [['', '', '', 'INR']], '2.6')`. */
export const record = (type: RecordType, ...fields: readonly AstmField[]): AstmRecord => ({
  type,
  fields: [type, ...fields],
});

/** Field n (from 1) as one text; components and repeats joined by `^` and `\`. Empty where there is none. */
export function fieldText(from: AstmRecord, n: number): string {
  const field = from.fields[n - 1];
  if (field === undefined) return '';
  return typeof field === 'string' ? field : field.map((repeat) => repeat.join('^')).join('\\');
}

/** Component c (from 1) of the first repeat of field n (from 1). Empty where there is none. */
export function componentText(from: AstmRecord, n: number, c: number): string {
  const field = from.fields[n - 1];
  if (field === undefined) return '';
  if (typeof field === 'string') return c === 1 ? field : '';
  return field[0]?.[c - 1] ?? '';
}
