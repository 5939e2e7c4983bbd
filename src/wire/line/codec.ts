/**
 * The body of a TLP/1 line, both ways: `VERB *( SP key=value )`. Text in, verb and fields out, and back. Strict:
 * whatever the grammar in protocols/line/ does not allow is refused with its reason. Knows nothing of what the keys
 * mean. Written with character codes instead of patterns, because every result of every meter goes through it.
 */
import { bad, Fault, good, type Parsed } from '../../core/fault.ts';
import { crc16Text, crcHex } from './crc16.ts';

/** A line's content: keys in the order in which they stood, values with `%XX` resolved. */
export interface Body {
  readonly verb: string;
  readonly fields: ReadonlyMap<string, string>;
}

/** Longest body, in bytes. */
export const MAX_BODY = 230;
/** Longest line with its check and line end, in bytes. */
export const MAX_LINE = 240;

const SPACE = 0x20;
const PERCENT = 0x25;
const STAR = 0x2a;
const EQUALS = 0x3d;

const LETTERS: readonly string[] = [...'abcdefghijklmnopqrstuvwxyz'];

const isUpper = (c: number): boolean => c >= 0x41 && c <= 0x5a;
const isLower = (c: number): boolean => c >= 0x61 && c <= 0x7a;
const isDigit = (c: number): boolean => c >= 0x30 && c <= 0x39;
/** What may follow the first letter of a key: letters, digits, dot, hyphen. */
const isKeyRest = (c: number): boolean => isLower(c) || isDigit(c) || c === 0x2e || c === 0x2d;

/** Reads a body (without `*`, check and line end). */
export function parseBody(text: string): Parsed<Body> {
  const end = text.length;
  if (end === 0 || end > MAX_BODY) return bad(`a body has 1 to ${MAX_BODY} bytes, this one has ${end}`);
  let at = 0;
  while (at < end && isUpper(text.charCodeAt(at))) at++;
  if (at < 2 || at > 8) return bad('a verb has 2 to 8 upper-case letters');
  const verb = text.slice(0, at);
  const fields = new Map<string, string>();
  while (at < end) {
    if (text.charCodeAt(at) !== SPACE) return bad(`a space is missing at byte ${at + 1}`);
    const keyAt = ++at;
    if (at >= end || !isLower(text.charCodeAt(at))) return bad(`a key must begin at byte ${at + 1}`);
    do at++;
    while (at < end && isKeyRest(text.charCodeAt(at)));
    if (at - keyAt > 16) return bad(`a key is longer than 16 bytes at byte ${keyAt + 1}`);
    if (at >= end || text.charCodeAt(at) !== EQUALS) return bad(`"=" is missing at byte ${at + 1}`);
    // A key of one letter, as most are, comes from a table: it need not be made and hashed anew for every line.
    const key = at - keyAt === 1 ? (LETTERS[text.charCodeAt(keyAt) - 0x61] ?? '') : text.slice(keyAt, at);
    const valueAt = ++at;
    let escaped = false;
    for (; at < end; at++) {
      const c = text.charCodeAt(at);
      if (c > STAR && c <= 0x7e && c !== EQUALS) continue; // nearly all: digits, letters, points
      if (c === SPACE) break;
      if (c < SPACE || c > 0x7e || c === STAR || c === EQUALS) return bad(`byte ${at + 1} is not allowed in a value`);
      if (c === PERCENT) escaped = true;
    }
    if (at === valueAt) return bad(`key "${key}" has no value`);
    let value = text.slice(valueAt, at);
    if (escaped) {
      const plain = unescapeValue(value);
      if (plain === undefined) return bad(`key "${key}": the %XX in its value are not UTF-8`);
      value = plain;
    }
    const before = fields.size;
    fields.set(key, value);
    if (fields.size === before) return bad(`key "${key}" stands twice`);
  }
  return good({ verb, fields });
}

const UTF8 = new TextDecoder('utf-8', { fatal: true, ignoreBOM: true });

/** The value of hexadecimal digit `c`, or -1. Lower case is understood, never written. */
function hexDigit(c: number): number {
  if (isDigit(c)) return c - 0x30;
  if (c >= 0x41 && c <= 0x46) return c - 0x37;
  return c >= 0x61 && c <= 0x66 ? c - 0x57 : -1;
}

/** Resolves `%XX`; undefined where a digit is missing or the bytes are not UTF-8. */
function unescapeValue(value: string): string | undefined {
  const bytes = new Uint8Array(value.length);
  let length = 0;
  for (let i = 0; i < value.length; i++) {
    let byte = value.charCodeAt(i);
    if (byte === PERCENT) {
      const high = hexDigit(value.charCodeAt(i + 1));
      const low = hexDigit(value.charCodeAt(i + 2));
      if (high < 0 || low < 0) return undefined;
      byte = high * 16 + low;
      i += 2;
    }
    bytes[length++] = byte;
  }
  try {
    return UTF8.decode(bytes.subarray(0, length));
  } catch {
    return undefined; // the one error that a fatal decoder has: these bytes are not UTF-8
  }
}

const isPlain = (byte: number): boolean =>
  byte > SPACE && byte <= 0x7e && byte !== STAR && byte !== EQUALS && byte !== PERCENT;

/** A value as it stands on the line. */
function escapeValue(value: string): string {
  let out = '';
  for (const byte of new TextEncoder().encode(value))
    out += isPlain(byte) ? String.fromCharCode(byte) : `%${byte.toString(16).toUpperCase().padStart(2, '0')}`;
  return out;
}

/** Keys and values of a line to send; a number is written in decimal. */
export type LineFields = Readonly<Record<string, string | number>>;

/**
 * The body of a line to send. What it is given is our own: a wrong verb, key, empty value or a body that is too long
 * throws INTERNAL.
 */
export function encodeBody(verb: string, fields: LineFields = {}): string {
  let body = verb;
  for (const [key, value] of Object.entries(fields)) body += ` ${key}=${escapeValue(String(value))}`;
  const check = parseBody(body);
  if (!check.ok)
    throw new Fault('INTERNAL', `A line of our own is wrong: ${check.problem}`, 'Please report this.', { cause: body });
  return body;
}

/** A body with its check and line end, ready to send. */
export function frameBody(body: string): Uint8Array {
  return new TextEncoder().encode(`${body}*${crcHex(crc16Text(body))}\r\n`);
}

/** A whole line to send. Throws INTERNAL like `encodeBody`. */
export function encodeLine(verb: string, fields: LineFields = {}): Uint8Array {
  return frameBody(encodeBody(verb, fields));
}
