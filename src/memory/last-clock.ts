/**
 * What the meter's clock says of a told test: a new one cannot have been made before the last download, so while the
 * clock ran on its stamp is later; and a stamp comes twice only where the clock may have lost power in between.
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

/** What the clock showed at the end of this download, by the last look at it; undefined where that is not sure. */
export function clockAfter(download: Download): Shown | undefined {
  const last = shownBy(download.clock.at(-1));
  if (!last) return undefined;
  return { shown: wall(last.shown + Math.max(0, download.until - last.at)), at: download.until };
}

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

/** What the meter's clock says about which tests can be new since it was last seen. */
export interface ClockEvidence {
  /** The told test may repeat the stamp of a known one: the clock may have gone back to its default stamp since. */
  readonly mayRepeat: (told: Sighting) => boolean;
  /** Whether the told test is stamped before the last download or since; undefined if neither. */
  readonly stampedWhen: (told: Sighting) => 'before' | 'since' | undefined;
  /** The told test is stamped well before the last download although the clock ran on: it is hardly new. */
  readonly isBackdated: (told: Sighting) => boolean;
}

/** The evidence of one download's clock, after it was last seen as `before`. */
export function clockEvidence(download: Download, before: Shown | undefined): ClockEvidence {
  const now = shownBy(download.clock[0]);
  const unbroken = ranOn(before, now);
  return {
    mayRepeat({ record }) {
      // A counted loss would tell the two apart. That the clock is right now proves nothing: it may have been set again.
      if (record.lossCount !== undefined) return false;
      return record.meterTime ? soonAfter(record.meterTime.wall, download.resetStamp) : true;
    },
    stampedWhen({ record: { meterTime } }) {
      if (!before || !meterTime) return undefined;
      if (meterTime.wall + meterTime.resolutionMs <= before.shown) return 'before';
      const since = now && meterTime.wall > before.shown + SLACK && meterTime.wall <= now.shown + SLACK;
      return since ? 'since' : undefined;
    },
    isBackdated({ record: { meterTime } }) {
      return unbroken && before !== undefined && meterTime !== undefined
        ? meterTime.wall + meterTime.resolutionMs + SLACK < before.shown
        : false;
    },
  };
}
