/**
 * A small, strict reader of E1394, written from protocols/astm/README.md alone: the frames of a transfer in, records
 * and tests out. It does not decide whether they are right; the clauses do.
 */
import type { Transfer } from './host.ts';
import { ACK, EOT } from './read-frame.ts';

/** The characters that part a record, as its header declares them. */
export interface Delimiters {
  readonly field: string;
  readonly repeat: string;
  readonly component: string;
  readonly escape: string;
}

/** One record of a message. */
export interface HeardRecord {
  /** Without the CR that closes it. */
  readonly text: string;
  /** Its first letter. */
  readonly type: string;
  /** Field `n` as the standard counts them: 1 is the record's letter. Empty where there is none. */
  field(n: number): string;
  /** Component `c`, from 1, of field `n`. */
  part(n: number, c: number): string;
}

/** An order with what belongs to it. */
export interface HeardTest {
  readonly order: HeardRecord;
  readonly results: readonly HeardRecord[];
  /** Everything below the order, results too. */
  readonly below: readonly HeardRecord[];
}

/** A message: what a transfer told. */
export interface Message {
  readonly delimiters: Delimiters;
  readonly records: readonly HeardRecord[];
  readonly tests: readonly HeardTest[];
}

/** The delimiters that a header declares; undefined where they are not four different marks. */
export function declared(headerText: string): Delimiters | undefined {
  const [, field, repeat, component, mark] = /^H(.)(.)(.)(.)(?:\1|$)/.exec(headerText) ?? [];
  if (!field || !repeat || !component || !mark) return undefined;
  const all = [field, repeat, component, mark];
  const areMarks = new Set(all).size === 4 && all.every((one) => /[!-/:-@[-`{-~]/.test(one));
  return areMarks ? { field, repeat, component, escape: mark } : undefined;
}

const USUAL: Delimiters = { field: '|', repeat: '\\', component: '^', escape: '&' };

/** Reads what a transfer told. */
export function messageOf(transfer: Transfer): Message {
  // A frame that was refused, and so sent again, counts once.
  const texts = transfer.sendings
    .filter(({ answer }) => answer === ACK || answer === EOT)
    .map(({ frame }) => frame.text)
    .join('')
    .split('\r')
    .filter((text) => text !== '');
  const delimiters = declared(texts.find((text) => text.startsWith('H')) ?? '') ?? USUAL;
  const records = texts.map((text): HeardRecord => {
    const fields = text.split(delimiters.field);
    const field = (n: number): string => fields[n - 1] ?? '';
    const part = (n: number, c: number): string => field(n).split(delimiters.component)[c - 1] ?? '';
    return { text, type: text.charAt(0), field, part };
  });
  return { delimiters, records, tests: testsOf(records) };
}

function testsOf(records: readonly HeardRecord[]): HeardTest[] {
  const tests: { order: HeardRecord; results: HeardRecord[]; below: HeardRecord[] }[] = [];
  let test: (typeof tests)[number] | undefined;
  for (const record of records) {
    if (record.type === 'O') {
      test = { order: record, results: [], below: [] };
      tests.push(test);
    } else if ('HPQSL'.includes(record.type)) test = undefined;
    else {
      test?.below.push(record);
      if (record.type === 'R') test?.results.push(record);
    }
  }
  return tests;
}
