/** Reads a whole record of E1394 into the form that is written, by the program's own reader: what was written must come back. */
import { good, type Parsed } from '../../src/core/fault.ts';
import type { Delimiters } from '../../src/wire/astm/delimiters.ts';
import { viewRecord } from '../../src/wire/astm/record-view.ts';
import type { AstmField, AstmRecord } from '../../src/wire/astm/records.ts';

/** Reads one record's text (without its CR). `d`: the delimiters of its message, which a header declares itself. */
export function parseRecord(text: string, d: Delimiters): Parsed<AstmRecord> {
  const view = viewRecord(text, d);
  if (!view.ok) return view;
  const { type, size } = view.value;
  const fields: AstmField[] = [type];
  for (let n = 2; n <= size; n++) {
    const parts = view.value.parts(n);
    const isPlain = parts.length === 1 && parts[0]?.length === 1;
    fields.push(isPlain ? (parts[0]?.[0] ?? '') : parts);
  }
  if (type === 'H') fields[1] = d.repeat + d.component + d.escape;
  while (fields.length > 1 && fields[fields.length - 1] === '') fields.pop();
  return good({ type, fields });
}
