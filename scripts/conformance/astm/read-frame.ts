/**
 * A small, strict reader of E1381, written from protocols/astm/README.md alone: bytes in, frames and control
 * characters out, each with what is wrong with it. It shares nothing with the program's own decoder. A frame with a
 * wrong sum is still read, so that each fault is found by the clause that is about it, and by no other.
 */

const STX = '\x02';
export const ETX = '\x03';
export const EOT = '\x04';
export const ENQ = '\x05';
export const ACK = '\x06';
export const NAK = '\x15';
export const ETB = '\x17';

const CONTROLS: Readonly<Record<string, string>> = { [ENQ]: 'ENQ', [EOT]: 'EOT', [ACK]: 'ACK', [NAK]: 'NAK' };
/** SOH STX ETX EOT ENQ ACK LF DLE DC1-DC4 NAK SYN ETB: none of them may stand in a text. */
const RESTRICTED = '\x01\x02\x03\x04\x05\x06\x0a\x10\x11\x12\x13\x14\x15\x16\x17';
/** The longest text of a frame (LIS01-A2). */
const MOST_TEXT = 64_000;

/** What can be wrong with a frame: its sum, its shape, its length, or a byte of its text. */
export type FrameFault = 'sum' | 'form' | 'length' | 'byte';

/** A frame that came, whatever is wrong with it. */
export interface HeardFrame {
  /** All of it, one character a byte. */
  readonly bytes: string;
  /** 0 to 7; undefined where there is no such digit. */
  readonly number: number | undefined;
  readonly text: string;
  /** True for ETX, false for ETB, undefined where neither came. */
  readonly isLast: boolean | undefined;
  readonly faults: readonly { readonly kind: FrameFault; readonly says: string }[];
}

/** What a meter can say. */
export type Said =
  | { readonly kind: 'frame'; readonly bytes: string; readonly frame: HeardFrame }
  | { readonly kind: 'control'; readonly bytes: string; readonly code: string }
  | { readonly kind: 'noise'; readonly bytes: string };

/** The sum of every byte from the number to ETX or ETB, in two upper-case digits. */
function sumOf(counted: string): string {
  let sum = 0;
  for (let i = 0; i < counted.length; i++) sum += counted.charCodeAt(i) & 0xff;
  return (sum % 256).toString(16).toUpperCase().padStart(2, '0');
}

/** A right frame to send. */
export function frameOf(number: number, text: string, end: typeof ETX | typeof ETB = ETX): string {
  const counted = `${number % 8}${text}${end}`;
  return `${STX}${counted}${sumOf(counted)}\r\n`;
}

/**
 * Takes the first whole thing off the bytes that came; undefined where more must come first. `isOver`: nothing more
 * will come, so what is there is all.
 */
export function takeSaid(bytes: string, isOver: boolean): Said | undefined {
  const first = bytes.charAt(0);
  if (first === '') return undefined;
  const code = CONTROLS[first];
  if (code !== undefined) return { kind: 'control', bytes: first, code };
  if (first !== STX) {
    const end = findAny(bytes, `${STX}${EOT}${ENQ}${ACK}${NAK}`);
    if (end < 0 && !isOver) return undefined;
    return { kind: 'noise', bytes: end < 0 ? bytes : bytes.slice(0, end) };
  }
  const end = findAny(bytes, `${STX}${ETX}${ETB}`, 1);
  if (end < 0 && !isOver) return undefined;
  const all = end < 0 ? bytes : bytes.slice(0, end) + (bytes[end] === STX ? '' : closing(bytes.slice(end)));
  // What ends with the bytes that came so far may go on.
  if (all.length === bytes.length && !all.endsWith('\n') && !isOver) return undefined;
  return { kind: 'frame', bytes: all, frame: readFrame(all) };
}

/** ETX or ETB and what belongs to it: two characters of sum, CR, LF, as far as they are there. */
const closing = (bytes: string): string => bytes.charAt(0) + (/^[^\r\n]{0,2}\r?\n?/.exec(bytes.slice(1))?.[0] ?? '');

/** Where the first of some characters stands; -1 where none does. */
function findAny(bytes: string, characters: string, from = 0): number {
  for (let i = from; i < bytes.length; i++) if (characters.includes(bytes.charAt(i))) return i;
  return -1;
}

function readFrame(bytes: string): HeardFrame {
  const faults: HeardFrame['faults'][number][] = [];
  const found = (kind: FrameFault, says: string): void => {
    faults.push({ kind, says });
  };
  const at = findAny(bytes, `${ETX}${ETB}`);
  const counted = at < 0 ? bytes.slice(1) : bytes.slice(1, at + 1);
  const tail = at < 0 ? '' : bytes.slice(at + 1);
  const text = at < 0 ? counted.slice(1) : counted.slice(1, -1);
  if (at < 0) found('form', 'neither ETX nor ETB');
  if (!/^[0-7]/.test(counted)) found('form', 'no number from 0 to 7 behind STX');
  if (at >= 0 && !/^[0-9A-Fa-f]{2}\r\n$/.test(tail)) found('form', 'no two hexadecimal digits, CR and LF at its end');
  const sum = tail.slice(0, 2).toUpperCase();
  if (/^[0-9A-F]{2}$/.test(sum) && sum !== sumOf(counted)) found('sum', `${sum}, but the sum is ${sumOf(counted)}`);
  if (text.length > MOST_TEXT) found('length', `a text of ${text.length} bytes`);
  if (findAny(text, RESTRICTED) >= 0) found('byte', 'a character that may not stand in a text');
  const number = /^[0-7]/.test(counted) ? Number(counted.charAt(0)) : undefined;
  return { bytes, number, text, isLast: at < 0 ? undefined : bytes.charAt(at) === ETX, faults };
}

const NAMES: Readonly<Record<string, string>> = {
  ...CONTROLS,
  [STX]: 'STX',
  [ETX]: 'ETX',
  [ETB]: 'ETB',
  '\r': 'CR',
  '\n': 'LF',
};

/** Bytes as people read them: control characters by name, strange ones as \xNN; long texts are cut in the middle. */
export function shown(bytes: string): string {
  const all = bytes.replace(/[^\x20-\x7e]/g, (char) => {
    const name = NAMES[char];
    return name ? `<${name}>` : `\\x${char.charCodeAt(0).toString(16).toUpperCase().padStart(2, '0')}`;
  });
  return all.length > 200 ? `${all.slice(0, 120)} … ${all.slice(-60)}` : all;
}
