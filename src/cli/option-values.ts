/** What the texts of options mean that need more than themselves to be read, such as the zone of a local time. */
import { Fault } from '../core/fault.ts';
import type { Instant } from '../core/instant.ts';
import { parseMoment } from '../core/local-moment.ts';

/** The moment that an option gives, in local time; undefined where it was not given. Throws CALL_WRONG with the option's name. */
export function momentOption(
  option: string,
  text: string | undefined,
  zone: string,
  edge: 'start' | 'end' = 'start',
): Instant | undefined {
  if (text === undefined) return undefined;
  const read = parseMoment(text, zone, edge);
  if (read.ok) return read.value;
  throw new Fault('CALL_WRONG', `${option}: ${read.problem}`, 'Local time is meant unless it ends with Z.');
}

/** A whole number that an option gives. Throws CALL_WRONG with the option's name. */
export function wholeOption(option: string, text: string | undefined, low: number, high: number): number | undefined {
  if (text === undefined) return undefined;
  const number = Number(text);
  if (Number.isInteger(number) && number >= low && number <= high) return number;
  throw new Fault(
    'CALL_WRONG',
    `${option}: "${text}" is not a whole number from ${low} to ${high}`,
    'Write digits only.',
  );
}

/** The two limits of a range such as `2.0-3.0`. Throws CALL_WRONG with the option's name. */
export function rangeOption(option: string, text: string): { readonly low: string; readonly high: string } {
  const found = /^(\d+(?:[.,]\d+)?)\s*[-–]\s*(\d+(?:[.,]\d+)?)$/.exec(text.trim());
  if (found) return { low: (found[1] ?? '').replace(',', '.'), high: (found[2] ?? '').replace(',', '.') };
  throw new Fault('CALL_WRONG', `${option}: "${text}" is not a range`, 'Write the two limits: 2.0-3.0');
}
