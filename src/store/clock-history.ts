/** What the store knows of a meter's clock, in the order of the tests: what the clock room is handed. */
import type { ClockEvent } from '../core/download.ts';
import { type Instant, instant } from '../core/instant.ts';
import { type MeterTime, meterTimeOf, wall } from '../core/meter-time.ts';
import type { DownloadId, ReadingId } from '../core/reading.ts';
import type { Database } from './database.ts';
import { makeDownloads, type StoredDownload } from './downloads.ts';

/** One test, with what bears on its time. */
export interface ClockTestRow {
  readonly id: ReadingId;
  readonly position: number;
  /** The meter's stamp; absent where its clock was not set or the stamp cannot be read. */
  readonly stamp?: MeterTime;
  /** True where the meter gave no stamp: its clock was not set. */
  readonly unset: boolean;
  readonly lossCount?: number;
  /** The download earliest in time that told it. */
  readonly earliestDownload: DownloadId;
  /** When that download ended: the test was made before. */
  readonly toldBy: Instant;
  /** Number of the memory that told it; absent: 0. */
  readonly memory?: number;
}

/** One download with what it proved of the clock. `after` and `mayPrecede` say where it stands among the tests. */
export interface ClockDownloadRow extends StoredDownload {
  readonly clock: readonly ClockEvent[];
}

/** Everything that bears on a meter's times. */
export interface ClockHistoryRows {
  /** In the meter's order of tests, oldest first. */
  readonly tests: readonly ClockTestRow[];
  /** Oldest first in time. */
  readonly downloads: readonly ClockDownloadRow[];
}

interface TestRow {
  reading_id: ReadingId;
  position: number;
  meter_time: string;
  wall: number | null;
  resolution_ms: number | null;
  loss_count: number | null;
  earliest_download: DownloadId;
  until: number;
  memory: number;
}

const testOf = (r: TestRow): ClockTestRow => ({
  id: r.reading_id,
  position: r.position,
  ...(r.wall === null || r.resolution_ms === null ? {} : { stamp: meterTimeOf(wall(r.wall), r.resolution_ms) }),
  unset: r.meter_time === '',
  ...(r.loss_count === null ? {} : { lossCount: r.loss_count }),
  earliestDownload: r.earliest_download,
  toldBy: instant(r.until),
  ...(r.memory === 0 ? {} : { memory: r.memory }),
});

/** Where to begin: at a download, behind the first `position` tests of the meter. */
export interface HistoryStart {
  readonly download: DownloadId;
  readonly position: number;
}

/** The history of one meter, whole or from a download on. */
export function clockHistory(db: Database, meterNo: number, start?: HistoryStart): ClockHistoryRows {
  const downloads = makeDownloads(db);
  const tests = db
    .statement<TestRow>(
      `SELECT r.reading_id, r.position, r.meter_time, r.wall, r.resolution_ms, r.loss_count, r.earliest_download, d.until,
          coalesce(dm.memory, 0) AS memory
        FROM reading r JOIN download d ON d.download_id = r.earliest_download
          LEFT JOIN download_memory dm ON dm.download_id = d.download_id
        WHERE r.meter_no = ? AND r.position >= ? ORDER BY r.position`,
    )
    .all(meterNo, start?.position ?? 0)
    .map(testOf);
  return {
    tests,
    downloads: downloads.list(meterNo, start?.download).map((d) => ({ ...d, clock: downloads.clockEvents(d.id) })),
  };
}

/** Positions of readings in their meter's order of tests. Readings that are not there are left out. */
export function positionsOf(db: Database, readings: readonly ReadingId[]): Map<ReadingId, number> {
  const one = db.statement<{ position: number }>('SELECT position FROM reading WHERE reading_id = ?');
  return new Map(
    readings.flatMap((id) => {
      const row = one.get(id);
      return row ? [[id, row.position] as const] : [];
    }),
  );
}
