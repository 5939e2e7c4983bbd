/** Times and spans in words for people: local time of a named zone, never bare UTC. Pure. */
import type { Instant } from '../core/instant.ts';
import { formatWall } from '../core/meter-time.ts';
import { zoneOf } from '../core/zone.ts';

/** Local date and time to the minute, as a correct clock in the zone shows it: `2026-03-02 10:15`. The caller names the zone. */
export const localMinute = (at: Instant, zone: string): string =>
  formatWall(zoneOf(zone).wallAt(at), 60_000).replace('T', ' ');

/** Local date and time to the second. */
export const localSecond = (at: Instant, zone: string): string => formatWall(zoneOf(zone).wallAt(at)).replace('T', ' ');

/** A span in the two largest units that say something: `3 min 12 s`, `2 h`, `26 years 52 days`. Always positive. */
export function plainSpan(seconds: number): string {
  let rest = Math.round(Math.abs(seconds));
  const parts: string[] = [];
  for (const [size, one, many] of UNITS) {
    const count = Math.floor(rest / size);
    rest -= count * size;
    if (count > 0) parts.push(`${count} ${count === 1 ? one : many}`);
    if (parts.length === 2 || (parts.length === 1 && count === 0)) break;
  }
  return parts.length > 0 ? parts.join(' ') : '0 s';
}

// A year of 365.25 days: spans of years only occur where a clock was never set, and are said to about a day.
const UNITS: readonly (readonly [number, string, string])[] = [
  [31_557_600, 'year', 'years'],
  [86_400, 'day', 'days'],
  [3600, 'h', 'h'],
  [60, 'min', 'min'],
  [1, 's', 's'],
];

/** How far a meter's clock is off, in words: `3 min 12 s fast`, `right`. Within a second counts as right. */
export function clockOffText(seconds: number): string {
  if (Math.abs(seconds) <= 1) return 'right';
  return `${plainSpan(seconds)} ${seconds > 0 ? 'fast' : 'slow'}`;
}
