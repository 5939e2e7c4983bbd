/** Numbers and times as the fields of TLP/1 hold them: strict, and written for every result of every meter. */
import { type MeterTime, parseMeterTime } from '../../core/meter-time.ts';
import type { Body } from './codec.ts';

/** The fields of a body. */
export type Fields = Body['fields'];

/** A whole number from 0, of at most 9 digits; undefined for anything else. */
export function naturalOf(text: string | undefined): number | undefined {
  if (text === undefined || text.length > 9) return undefined;
  let value = 0;
  for (let i = 0; i < text.length; i++) {
    const digit = text.charCodeAt(i) - 0x30;
    if (digit < 0 || digit > 9) return undefined;
    value = value * 10 + digit;
  }
  return value;
}

const TIME_LENGTHS: readonly number[] = ['2026-03-02T10:15'.length, '2026-03-02T10:15:00'.length];

/** A time of the line protocol; undefined where it does not exist or is a mere date. */
export function timeOf(text: string): MeterTime | undefined {
  if (!TIME_LENGTHS.includes(text.length)) return undefined;
  const time = parseMeterTime(text);
  return time.ok ? time.value : undefined;
}
