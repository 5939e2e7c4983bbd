/**
 * Characters and escapes of E1394 (LIS02-A2): what one byte of a frame means, and how a text that holds a delimiter
 * or a control character is written. Pure text in and out.
 */
import type { Delimiters } from './delimiters.ts';

const strictUtf8 = new TextDecoder('utf-8', { fatal: true, ignoreBOM: true });
const BEYOND_ASCII = /[\x80-\xff]/;

/** True where every character is an ASCII one, so that bytes and characters are the same. */
export const isAscii = (text: string): boolean => !BEYOND_ASCII.test(text);

/** Text of one character a byte as characters: UTF-8 where the bytes are valid UTF-8, else Latin-1. */
export function decodeCharacters(byteText: string): string {
  if (isAscii(byteText)) return byteText;
  try {
    return strictUtf8.decode(Buffer.from(byteText, 'latin1'));
  } catch {
    return byteText; // not UTF-8: each byte is a Latin-1 character already
  }
}

/** A component with its escapes resolved. A sequence that E1394 does not know stays as it stands. */
export function unescapeText(text: string, d: Delimiters): string {
  let start = text.indexOf(d.escape);
  if (start < 0) return text;
  let out = text.slice(0, start);
  while (start >= 0) {
    const end = text.indexOf(d.escape, start + 1);
    const meaning = end < 0 ? undefined : meaningOf(text.slice(start + 1, end), d);
    const next = meaning === undefined ? start + 1 : end + 1;
    out += meaning ?? d.escape;
    start = text.indexOf(d.escape, next);
    out += text.slice(next, start < 0 ? undefined : start);
  }
  return out;
}

function meaningOf(body: string, d: Delimiters): string | undefined {
  switch (body) {
    case 'F':
      return d.field;
    case 'S':
      return d.component;
    case 'R':
      return d.repeat;
    case 'E':
      return d.escape;
    case 'H': // highlighting has no place in plain text
    case 'N':
      return '';
    default:
      return /^X(?:[0-9A-Fa-f]{2})+$/.test(body)
        ? decodeCharacters(Buffer.from(body.slice(1), 'hex').toString('latin1'))
        : undefined;
  }
}

/** A component as it is written: delimiters as letters, runs of control characters as hexadecimal bytes. */
export function escapeText(text: string, d: Delimiters): string {
  let out = '';
  let hex = '';
  for (const ch of text) {
    const code = ch.charCodeAt(0);
    if (code < 0x20 || code === 0x7f) {
      hex += code.toString(16).toUpperCase().padStart(2, '0');
      continue;
    }
    if (hex !== '') out += `${d.escape}X${hex}${d.escape}`;
    hex = '';
    const letter =
      ch === d.field ? 'F' : ch === d.component ? 'S' : ch === d.repeat ? 'R' : ch === d.escape ? 'E' : undefined;
    out += letter === undefined ? ch : d.escape + letter + d.escape;
  }
  return hex === '' ? out : `${out}${d.escape}X${hex}${d.escape}`;
}
