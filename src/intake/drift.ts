/** How fast or slow the clock of a meter runs, as far as its downloads tell. */
import { meterClock } from '../clock/meter-clock.ts';
import type { Store } from '../store/store.ts';
import { placeWhole } from './placing.ts';
import type { ProfileLibrary } from './profile-library.ts';

/** Days for which the clock room tells the drift of a meter. */
const MONTH_DAYS = 30;

/** Seconds that a meter's clock gains a day, by its number in the store; undefined where it is not known yet. */
export const driftBy =
  (store: Store, profiles: ProfileLibrary) =>
  (meterNo: number): number | undefined => {
    const last = store.downloads.list(meterNo).at(-1);
    if (!last) return undefined;
    const { drift } = meterClock(placeWhole(store, meterNo, profiles.get(last.profile)));
    return drift && drift.secondsAMonth / MONTH_DAYS;
  };
