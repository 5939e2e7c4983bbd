/** Moments in words for people: local date and time of a zone. Whoever shows them names the zone. */
import type { Instant } from './instant.ts';
import { formatWall } from './meter-time.ts';
import type { Zone } from './zone.ts';

/** The date alone: `2026-03-02`. */
export const localDay = (at: Instant, zone: Zone): string => formatWall(zone.wallAt(at), 86_400_000);

/** To the minute, as a correct clock in the zone shows it: `2026-03-02 10:15`. */
export const localMinute = (at: Instant, zone: Zone): string => formatWall(zone.wallAt(at), 60_000).replace('T', ' ');

/** To the second: `2026-03-02 10:15:00`. */
export const localSecond = (at: Instant, zone: Zone): string => formatWall(zone.wallAt(at), 1000).replace('T', ' ');
