/** Takes from the store what the forecast of a meter's memory rests on. */
import { forecastOverwrite, type OverwriteForecast } from '../clinic/meters/overwrite.ts';
import { METER_HABITS } from '../clinic/rules/meter-habits.ts';
import { type Instant, instant } from '../core/instant.ts';
import type { StoredDownload } from '../store/downloads.ts';
import type { StoredMeter } from '../store/meters.ts';
import type { Store } from '../store/store.ts';

/** When a meter's memory will overwrite unread results. From the last complete download on nothing is unread; a meter that was never read whole may have all of it unread. */
export function forecastOf(
  store: Store,
  { meterNo, capacity }: StoredMeter,
  downloads: readonly StoredDownload[],
  now: Instant,
): OverwriteForecast {
  const complete = downloads.findLast((d) => d.complete);
  const [first] = downloads;
  const read = complete
    ? { at: complete.at, unread: 0 }
    : first?.held === undefined
      ? undefined
      : { at: first.at, unread: first.held };
  const tests = store.db
    .statement<{ at: number }>(
      `SELECT coalesce(taken_at, earliest, latest) AS at FROM judged
        WHERE meter_no = ? AND coalesce(taken_at, earliest, latest) IS NOT NULL`,
    )
    .all(meterNo)
    .map((r) => instant(r.at));
  return forecastOverwrite(
    { ...(capacity !== undefined && { capacity }), ...(read && { read }), tests },
    now,
    METER_HABITS,
  );
}
