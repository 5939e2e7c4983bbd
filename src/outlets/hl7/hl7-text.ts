/**
 * Segments of HL7 v2.5.1 as text: delimiters, escapes, times. Pure. Escapes after chapter 2 of the standard: \F\ \S\ \R\
 * \T\ \E\ for the delimiters and \Xhh..\ for bytes; a segment ends with CR.
 */
import type { Instant } from '../../core/instant.ts';
import type { Zone } from '../../core/zone.ts';
import { localWithOffset, type Rounding } from '../when.ts';

/** The delimiters, as MSH-1 and MSH-2 declare them. */
const FIELD = '|';
export const ENCODING = '^~\\&';

const ESCAPES: Readonly<Record<string, string>> = {
  '|': '\\F\\',
  '^': '\\S\\',
  '~': '\\R\\',
  '&': '\\T\\',
  '\\': '\\E\\',
};

/** Text that may stand anywhere in a message: nothing in it delimits, ends a segment or frames a message. */
export function hl7Text(text: string | undefined): string {
  return (text ?? '').replace(/[|^~&\\\p{Cc}\p{Cs}]/gu, (character) => {
    const known = ESCAPES[character];
    if (known !== undefined) return known;
    // Half a character is no character; a control character keeps its bytes.
    if (/\p{Cs}/u.test(character)) return '\uFFFD';
    return `\\X${Buffer.from(character, 'utf8').toString('hex').toUpperCase()}\\`;
  });
}

/** A field of components, each escaped; empty ones at the end are left out. */
export const components = (...parts: readonly (string | undefined)[]): string =>
  parts.map(hl7Text).join('^').replace(/\^+$/, '');

/** A segment: name and fields from 1, already escaped; empty fields at the end are left out. */
export const segment = (name: string, ...fields: readonly string[]): string =>
  [name, ...fields].join(FIELD).replace(/\|+$/, '');

/** How precisely a time is told. */
export type Precision = 'second' | 'minute' | 'day';

const DIGITS: Readonly<Record<Precision, number>> = { second: 14, minute: 12, day: 8 };

/** A time stamp: local digits of the zone and the offset from UTC, `20260302101500+0000`. */
export function hl7Time(
  at: Instant,
  zone: Zone,
  precision: Precision = 'second',
  rounding: Rounding = 'round',
): string {
  const { local, offset } = localWithOffset(at, zone, rounding);
  return `${local.replace(/\D/g, '').slice(0, DIGITS[precision])}${offset.replace(':', '')}`;
}
