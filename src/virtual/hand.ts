/**
 * How a person sets a meter's clock: right within some minutes, or with one of the usual slips. The sizes are those
 * that the clock page names; which slip is made is decided elsewhere.
 */
import { type Instant, instant } from '../core/instant.ts';
import { type Wall, wall } from '../core/meter-time.ts';
import type { Zone } from '../core/zone.ts';
import type { Chance } from './chance.ts';
import { type MeterClock, readClock } from './clock.ts';
import type { Setting } from './life.ts';

const MINUTE_MS = 60_000;
const HOUR_MS = 3_600_000;
const DAY_MS = 86_400_000;
/** Somebody who sets a clock by another one is off by up to this. */
const BY_EYE_MS = 3 * MINUTE_MS;

/**
 * What the clock shows after somebody set it. A slip that cannot be made on this day (day and month exchanged on the
 * 20th) becomes an hour's. Undefined where nothing is done: nobody moves a clock by the hour that is days off.
 */
export function handSetting(
  clock: MeterClock,
  how: Setting,
  at: Instant,
  zone: Zone,
  chance: Chance,
): { readonly shows: Wall; readonly how: Setting } | undefined {
  const local = zone.wallAt(at);
  if (how === 'summer-time') {
    const showed = readClock(clock, at);
    if (showed === undefined || Math.abs(showed - local) > DAY_MS) return undefined;
    const moved = zone.offsetAt(at) - zone.offsetAt(instant(at - 7 * DAY_MS));
    return moved === 0 ? undefined : { shows: wall(showed + moved), how };
  }
  const byEye = wall(local + Math.round(chance.between(-BY_EYE_MS, BY_EYE_MS)));
  const earlierOrLater = chance.happens(0.5) ? 1 : -1;
  switch (how) {
    case 'right':
      return { shows: byEye, how };
    case 'twelve-hours':
      return { shows: wall(byEye + earlierOrLater * 12 * HOUR_MS), how };
    case 'year':
      return { shows: withDate(byEye, (date) => date.setUTCFullYear(date.getUTCFullYear() + earlierOrLater)), how };
    case 'day-month': {
      const [day, month] = [new Date(byEye).getUTCDate(), new Date(byEye).getUTCMonth() + 1];
      if (day <= 12 && day !== month)
        return { shows: withDate(byEye, (date) => date.setUTCMonth(day - 1, month)), how };
      return { shows: wall(byEye + earlierOrLater * HOUR_MS), how: 'hour' };
    }
    case 'hour':
      return { shows: wall(byEye + earlierOrLater * HOUR_MS), how };
  }
}

function withDate(at: Wall, change: (date: Date) => unknown): Wall {
  const date = new Date(at);
  change(date);
  return wall(date.getTime());
}
