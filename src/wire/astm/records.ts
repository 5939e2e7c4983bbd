/**
 * Writes E1394 (LIS02-A2) records: fields, repeats and components as the text between two CR. All nine types, the
 * delimiters of the message, escapes. Strict; what a field means is not its business. `record-view.ts` reads them.
 */
import { Fault } from '../../core/fault.ts';
import { type Delimiters, USUAL_DELIMITERS } from './delimiters.ts';
import { escapeText } from './escapes.ts';
import type { RecordType } from './record-view.ts';

const CONTROL = /\p{Cc}/u;

/** A plain text, or repeats of components where the field has more than one of either. */
export type AstmField = string | readonly (readonly string[])[];

/** A record. `fields[0]` is the type, so field n of the standard is `fields[n - 1]`; no empty fields at the end. */
export interface AstmRecord {
  readonly type: RecordType;
  readonly fields: readonly AstmField[];
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
