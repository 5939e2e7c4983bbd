/** Times and spans in words for people: local time of a named zone, never bare UTC. Pure. */
import type { Instant } from '../core/instant.ts';
import { formatWall } from '../core/meter-time.ts';
import { spanInWords } from '../core/span-words.ts';
import { zoneOf } from '../core/zone.ts';

/** Local date and time to the minute, as a correct clock in the zone shows it: `2026-03-02 10:15`. The caller names the zone. */
export const localMinute = (at: Instant, zone: string): string =>
  formatWall(zoneOf(zone).wallAt(at), 60_000).replace('T', ' ');

/** Local date and time to the second. */
export const localSecond = (at: Instant, zone: string): string => formatWall(zoneOf(zone).wallAt(at)).replace('T', ' ');

/** How far a meter's clock is off, in words: `3 min 12 s fast`, `right`. Within a second counts as right. */
export function clockOffText(seconds: number): string {
  if (Math.abs(seconds) <= 1) return 'right';
  return `${spanInWords(seconds)} ${seconds > 0 ? 'fast' : 'slow'}`;
}
