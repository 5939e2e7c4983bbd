/** How fast or slow the clock of a meter runs, as far as its downloads tell. */
import { meterClock } from '../clock/meter-clock.ts';
import type { Store } from '../store/store.ts';
import { placeWhole } from './placing.ts';
import type { ProfileLibrary } from './profile-library.ts';

/** Days for which the clock room tells the drift of a meter. */
const MONTH_DAYS = 30;

/**
 * Seconds that a meter's clock gains a day, by its number in the store; undefined where it is not known yet. What was
 * found out of a meter is kept until it has been read again: placing all its tests anew takes a while.
 */
export function driftBy(store: Store, profiles: ProfileLibrary): (meterNo: number) => number | undefined {
  const known = new Map<number, { readonly upTo: string; readonly drift: number | undefined }>();
  return (meterNo) => {
    const downloads = store.downloads.list(meterNo);
    const last = downloads.at(-1);
    if (!last) return undefined;
    const upTo = `${last.id} ${downloads.length}`;
    const kept = known.get(meterNo);
    if (kept?.upTo === upTo) return kept.drift;
    const { drift } = meterClock(placeWhole(store, meterNo, profiles.get(last.profile)));
    const found = drift && drift.secondsAMonth / MONTH_DAYS;
    known.set(meterNo, { upTo, drift: found });
    return found;
  };
}
