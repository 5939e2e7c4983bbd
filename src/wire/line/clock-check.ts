/**
 * Is a meter's clock right, and did it take the time that it was given? Pure arithmetic over a reading and the zone
 * of the dock, with the meter's resolution taken into account: digits are cut off, so a clock that shows minutes may
 * stand anywhere in that minute.
 */
import type { Instant } from '../../core/instant.ts';
import type { MeterTime, Wall } from '../../core/meter-time.ts';
import { wall } from '../../core/meter-time.ts';
import type { Zone } from '../../core/zone.ts';
import type { SetClock } from '../talk.ts';
import type { ClockReading } from './messages.ts';

/** A clock reading with the moments between which it was made: asked and answered. */
export interface ReadClock {
  readonly reading: ClockReading;
  readonly from: Instant;
  readonly to: Instant;
}

/** A clock that is further off than this is set (`when-off`). */
const OFF_MS = 60_000;
/** How far the reading back may lie from the time that was set. */
const AGREE_MS = 2000;
const SECOND = 1000;

/** How far `shown` is from standing at some moment in [from, to]; 0 where it can stand there. */
function distance(shown: MeterTime, from: number, to: number): number {
  return Math.max(0, shown.wall - to, from - (shown.wall + shown.resolutionMs));
}

/** True where the rule says that this clock is to be set. A clock that is not set, or shows no time, is off. */
export function isDue(rule: SetClock, zone: Zone, clock: ReadClock): boolean {
  if (rule !== 'when-off') return rule === 'always';
  if (clock.reading.kind !== 'shown') return true;
  const middle = zone.wallAt(((clock.from + clock.to) / 2) as Instant);
  return distance(clock.reading.time, middle, middle) > OFF_MS;
}

/** Milliseconds from `at` to the next full second. */
export const untilFullSecond = (at: Instant): number => SECOND - (at % SECOND);

/** The local time of the full second nearest to `at`: timers end a little early or late. */
export function wallOfSecond(zone: Zone, at: Instant): Wall {
  return wall(Math.round(zone.wallAt(at) / SECOND) * SECOND);
}

/** True where a reading back agrees with the time that was asked for, `elapsedMs` having passed at most since. */
export function agrees(reading: ClockReading, asked: Wall, elapsedMs: number): boolean {
  return reading.kind === 'shown' && distance(reading.time, asked, asked + elapsedMs) <= AGREE_MS;
}
