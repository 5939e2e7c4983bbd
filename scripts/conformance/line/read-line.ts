/**
 * A small, strict reader of TLP/1, written from protocols/line/README.md alone. It shares nothing with the program's
 * own decoder, so that an error common to meter and gateway is seen. It says everything that is wrong with a line and
 * still reads what can be understood of it: so each fault is found by the clause that is about it, and by no other.
 */

/** What can be wrong with a line: its check digits, its length, its bytes, or its words. */
export type LineFault = 'check' | 'length' | 'form' | 'grammar';

/** A line that came, whatever is wrong with it. */
export interface HeardLine {
  /** All of it, one character a byte, with its line end. */
  readonly bytes: string;
  readonly body: string;
  readonly verb: string;
  /** Values as they should be understood: `%XX` resolved. */
  readonly keys: ReadonlyMap<string, string>;
  readonly faults: readonly { readonly kind: LineFault; readonly says: string }[];
  /** From the end of the question, or of the line before, to its first byte, milliseconds. */
  readonly afterMs: number;
  /** When its last byte had come, in milliseconds of the wire. */
  readonly at: number;
  /** False where it came while no question was open. */
  readonly isAsked: boolean;
}

/** CRC-16/IBM-3740 bit by bit, as the document gives it, in four upper-case digits. */
export function checkDigits(text: string): string {
  let crc = 0xffff;
  for (let i = 0; i < text.length; i++) {
    crc ^= (text.charCodeAt(i) & 0xff) << 8;
    for (let bit = 0; bit < 8; bit++) crc = crc & 0x8000 ? ((crc << 1) ^ 0x1021) & 0xffff : crc << 1;
  }
  return crc.toString(16).toUpperCase().padStart(4, '0');
}

/** A right line to send. */
export const lineOf = (body: string): string => `${body}*${checkDigits(body)}\r\n`;

const FIELD = /^([a-z][a-z0-9.-]{0,15})=((?:[\x21-\x24\x26-\x29\x2b-\x3c\x3e-\x7e]|%[0-9A-Fa-f]{2})+)$/;

/** Reads one line; undefined for an empty one. */
export function readLine(bytes: string, at: number, afterMs: number, isAsked: boolean): HeardLine | undefined {
  const text = bytes.replace(/\r?\n$/, '');
  if (text === '') return undefined;
  const faults: HeardLine['faults'][number][] = [];
  const found = (kind: LineFault, says: string): void => {
    faults.push({ kind, says });
  };
  const star = text.lastIndexOf('*');
  const body = star < 0 ? text : text.slice(0, star);
  const digits = star < 0 ? '' : text.slice(star + 1);
  if (!bytes.endsWith('\n')) found('form', 'the line does not end');
  if (star < 0) found('form', 'no * before the check digits');
  else if (digits !== checkDigits(body))
    found('check', `*${digits}, but the digits of this body are ${checkDigits(body)}`);
  if (!/^[\x20-\x29\x2b-\x7e]+$/.test(body))
    found('form', 'the body is empty or holds a byte outside 20 to 7E, or a *');
  if (bytes.length > 240) found('length', `${bytes.length} bytes`);
  else if (body.length > 230) found('length', `a body of ${body.length} bytes`);
  const [verb = '', ...fields] = body.split(' ');
  if (!/^[A-Z]{2,8}$/.test(verb)) found('grammar', `the verb "${verb}"`);
  const keys = new Map<string, string>();
  for (const field of fields) {
    if (!FIELD.test(field)) found('grammar', `the field "${field}"`);
    const at = field.indexOf('=');
    const key = at < 0 ? field : field.slice(0, at);
    if (keys.has(key)) found('grammar', `the key ${key} stands twice`);
    else keys.set(key, decoded(at < 0 ? '' : field.slice(at + 1)));
  }
  return { bytes, body, verb, keys, faults, afterMs, at, isAsked };
}

/** `%XX` as the bytes of UTF-8 that they stand for. */
const decoded = (value: string): string =>
  Buffer.from(
    value.replace(/%([0-9A-Fa-f]{2})/g, (_, hex: string) => String.fromCharCode(Number.parseInt(hex, 16))),
    'latin1',
  ).toString('utf8');

/** A line as people read it: without its line end, strange bytes as \xNN. */
export const shown = (bytes: string): string =>
  bytes
    .replace(/\r?\n$/, '')
    .replace(/[^\x20-\x7e]/g, (char) => `\\x${char.charCodeAt(0).toString(16).toUpperCase().padStart(2, '0')}`);

/** Lines as people read them, or that there were none. */
export const shownAll = (lines: readonly HeardLine[]): string =>
  lines.length === 0
    ? 'nothing'
    : lines.length > 4
      ? `${lines.length} lines, the first: ${shown(lines[0]?.bytes ?? '')}`
      : lines.map((line) => shown(line.bytes)).join(' / ');
