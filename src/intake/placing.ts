/**
 * Places the readings of a meter after a download has been settled: hands what the store knows to the clock room and
 * stores what comes back.
 */
import type { Placement } from '../core/placement.ts';
import type { DownloadId, ReadingId } from '../core/reading.ts';
import { zoneOf } from '../core/zone.ts';
import type { StoredDownload } from '../store/downloads.ts';
import type { SettledReading } from '../store/readings.ts';
import type { Store } from '../store/store.ts';
import type { MeterProfile } from '../wire/profile.ts';

/** What settling a download changed. */
export interface PlacingNews {
  readonly meterNo: number;
  /** The download that has just been settled. */
  readonly download: DownloadId;
  readonly profile: MeterProfile;
  /** Readings that are new with this download. */
  readonly added: readonly ReadingId[];
  /** True where the whole meter was settled again because the download came late: any reading may have changed. */
  readonly refolded: boolean;
}

/** Stores the placements of the meter's readings that the download brought. Called inside the intake's transaction. */
export function placeMeter(store: Store, news: PlacingNews): void {
  const placed = news.refolded ? store.placements.newest(news.meterNo) : new Map<ReadingId, Placement>();
  const readings = news.refolded
    ? store.readings.ofMeter(news.meterNo).filter((reading) => !placed.has(reading.id))
    : news.added.flatMap((id) => store.readings.get(id) ?? []);
  for (const reading of readings) {
    const download = store.downloads.get(reading.earliestDownload);
    if (download) store.placements.add(reading.id, displayed(reading, download), news.download);
  }
}

/** The stamp read as local time, bound above by the download. */
function displayed(reading: SettledReading, download: StoredDownload): Placement {
  const base = { latest: download.until, basis: 'displayed', flags: [] } as const;
  const stamp = reading.record.meterTime;
  if (!stamp) return { ...base, reason: "The meter's clock was not set, or its stamp cannot be read." };
  const moment = zoneOf(download.zone).momentOf(stamp.wall);
  const takenAt = moment.kind === 'unique' ? moment.at : moment.earlier;
  if (takenAt > download.until) return { ...base, reason: "The meter's stamp lies after the download." };
  return { ...base, takenAt, reason: "The meter's stamp is read as local time." };
}
