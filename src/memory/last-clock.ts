/**
 * Whether a test that looks like a known one can be a new one: only if the meter's clock may have gone back to its
 * default stamp since the last download, and the test was made shortly after.
 */
import type { ClockEvent, Download } from '../core/download.ts';
import type { Instant } from '../core/instant.ts';
import { type Wall, wall } from '../core/meter-time.ts';
import type { Sighting } from './same.ts';

interface Shown {
  readonly shown: Wall;
  readonly at: Instant;
}

const HOUR = 3_600_000;
const DAY = 24 * HOUR;
/** After a power loss a clock is put right within about this time; later stamps do not come twice. */
const SOON_AFTER_LOSS = 2 * DAY;
/** Two looks at a clock that nobody touched agree within this, and 300 ppm (three times the usual drift bound). */
const SLACK = 2 * 60_000;
const DRIFT = 3e-4;

const shownBy = (event: ClockEvent | undefined): Shown | undefined => {
  if (event?.kind === 'anchor') return { shown: event.shown.wall, at: event.to };
  if (event?.kind === 'set' && event.outcome === 'confirmed') return { shown: event.asked, at: event.to };
  return undefined;
};

/** What the clock showed when this download saw it last; undefined where that is not sure. */
export const clockAfter = (download: Download): Shown | undefined => shownBy(download.clock.at(-1));

function ranOn(before: Shown | undefined, now: Shown | undefined): boolean {
  if (!before || !now) return false;
  const passed = now.at - before.at;
  return Math.abs(now.shown - before.shown - passed) <= SLACK + passed * DRIFT;
}

function soonAfter(stamp: Wall, reset: Wall | undefined): boolean {
  // Where the meter does not say, clocks start at midnight of a New Year's Day.
  const start = reset ?? wall(Date.UTC(new Date(stamp).getUTCFullYear(), 0, 1));
  return stamp >= start && stamp < start + SOON_AFTER_LOSS;
}

/** The test for stamps that may have come twice, for one download after the clock was last seen as `before`. */
export function mayRepeatIn(download: Download, before: Shown | undefined): (told: Sighting) => boolean {
  const unbroken = ranOn(before, shownBy(download.clock[0]));
  return ({ record }) => {
    // A counted loss would tell the two apart.
    if (unbroken || record.lossCount !== undefined) return false;
    return record.meterTime ? soonAfter(record.meterTime.wall, download.resetStamp) : true;
  };
}
