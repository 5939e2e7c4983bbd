/**
 * Gives a virtual meter its past: the tests made so far, what happened to its clock, what was deleted. Used by the
 * command `virtual-meter` and by the two demo meters.
 */
import type { MemoryOrder } from '../core/download.ts';
import { type Instant, instant } from '../core/instant.ts';
import { type Wall, wall } from '../core/meter-time.ts';
import type { Zone } from '../core/zone.ts';
import type { Chance } from './chance.ts';
import type { Course } from './course.ts';
import { deleteOne, emptyMemory } from './memory.ts';
import { losePower, makeTest, type VirtualMeter } from './meter.ts';

/** What a meter is and what it went through. */
export interface Past {
  readonly id: string;
  readonly model: string;
  readonly capacity: number;
  readonly order: MemoryOrder;
  readonly stampResolutionMs: 1000 | 60_000;
  readonly tellsRunNumbers: boolean;
  readonly tellsLosses: boolean;
  /** What the clock shows after a power loss. */
  readonly defaultStamp: Wall;
  readonly driftPpm: number;
  /** How far its clock was off when it was set, before the first test; positive: fast. */
  readonly clockOffMs: number;
  /** True: its batteries ran out before the last third of the tests, and nobody set it since. */
  readonly clockLost: boolean;
  /** Results deleted on the meter. */
  readonly deletions: number;
}

const HOUR_MS = 3_600_000;
const DAY_MS = 86_400_000;

/** Moments of `count` tests about a week apart at somebody's usual hour, oldest first; the last is up to four days before `now`. */
export function weeklyMoments(chance: Chance, count: number, now: Instant, zone: Zone): Instant[] {
  const moments: Instant[] = [];
  const usualHour = chance.between(7, 21);
  let day = Math.floor(zone.wallAt(now) / DAY_MS) - chance.whole(1, 3);
  for (let i = 0; i < count; i++) {
    const hour = usualHour + chance.normal(0, 0.7);
    const moment = zone.momentOf(wall(Math.round(day * DAY_MS + hour * HOUR_MS)));
    moments.push(moment.kind === 'unique' ? moment.at : moment.earlier);
    day -= chance.happens(0.12) ? chance.whole(2, 5) : chance.whole(6, 8);
  }
  return moments.reverse();
}

/**
 * A meter as it is after the tests made at `moments` (oldest first; more of them than its capacity means that the
 * oldest were overwritten). Its clock ran at the zone's present offset all along: apart from what `past` says it is
 * right now, and knows nothing of summer time.
 */
export function meterWithPast(
  past: Past,
  moments: readonly Instant[],
  zone: Zone,
  now: Instant,
  chance: Chance,
  course: Course,
): VirtualMeter {
  const began = instant((moments[0] ?? now) - DAY_MS);
  const lostAfter = past.clockLost ? Math.floor((moments.length * 2) / 3) : undefined;
  let meter: VirtualMeter = {
    id: past.id,
    model: past.model,
    firmware: '1.0',
    memory: emptyMemory(past.capacity, past.order),
    clock: {
      rate: { ppm: past.driftPpm },
      defaultStamp: past.defaultStamp,
      losses: 0,
      setting: { at: began, shows: wall(began + zone.offsetAt(now) + past.clockOffMs) },
    },
    stampResolutionMs: past.stampResolutionMs,
    clockResolutionMs: 1000,
    tellsRunNumbers: past.tellsRunNumbers,
    tellsLosses: past.tellsLosses,
    tellsDefault: false,
  };
  moments.forEach((at, i) => {
    // New batteries are put in when the meter is wanted: a quarter of an hour before the test.
    if (i === lostAfter) meter = losePower(meter, instant(at - 900_000));
    meter = makeTest(meter, at, course.next(at));
  });
  if (past.clockLost && moments.length === 0) meter = losePower(meter, instant(now - DAY_MS));
  for (let i = 0; i < past.deletions && meter.memory.held.length > 0; i++) {
    const memory = deleteOne(meter.memory, chance.whole(0, meter.memory.held.length - 1));
    meter = { ...meter, memory };
  }
  return meter;
}
