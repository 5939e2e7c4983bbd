/** What is said of one meter in a few words. Pure. */
import type { MeterRow } from '../../../reports/gather-meters.ts';
import type { Format } from '../format.ts';
import type { Words } from '../words.ts';

const FAR_MS = 730 * 86_400_000;

/** Who has it. */
export const holderWords = ({ person }: MeterRow, words: Words, format: Format): string =>
  person ? format.person(person) : words.meters.notLent;

/** Before which day it is to be read. */
export function beforeWords({ forecast: f }: MeterRow, now: number, words: Words, format: Format): string {
  if (f.kind === 'unknown') return words.meters.unknownForecast[f.why];
  if (f.isPast) return words.meters.overwriteNow(format.day(f.cautiousAt));
  return f.cautiousAt > now + FAR_MS ? words.meters.far : format.day(f.cautiousAt);
}

/** How its clock runs. */
export function driftWords({ driftSecondsPerDay: s, isBeyondCrystal }: MeterRow, words: Words, format: Format): string {
  if (s === undefined) return words.meters.driftUnknown;
  const runs = words.meters.drift(format.number(Math.abs(s), 1), s > 0);
  return isBeyondCrystal ? `${runs}: ${words.meters.beyondCrystal}` : runs;
}
