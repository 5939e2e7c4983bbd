/** Times and spans in words for people: local time of a named zone, never bare UTC. Pure. */
import type { Instant } from '../core/instant.ts';
import * as local from '../core/local-words.ts';
import { spanInWords } from '../core/span-words.ts';
import { zoneOf } from '../core/zone.ts';

/** Local date and time to the minute, as a correct clock in the zone shows it: `2026-03-02 10:15`. The caller names the zone. */
export const localMinute = (at: Instant, zone: string): string => local.localMinute(at, zoneOf(zone));

/** Local date and time to the second. */
export const localSecond = (at: Instant, zone: string): string => local.localSecond(at, zoneOf(zone));

/** How far a meter's clock is off, in words: `3 min 12 s fast`, `right`. Within a second counts as right. */
export function clockOffText(seconds: number): string {
  if (Math.abs(seconds) <= 1) return 'right';
  return `${spanInWords(seconds)} ${seconds > 0 ? 'fast' : 'slow'}`;
}
