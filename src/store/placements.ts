/** Placements: what the gateway believes about when each test was made. Versions are added, never changed. */
import { instant } from '../core/instant.ts';
import type { Placement, TimeBasis } from '../core/placement.ts';
import type { DownloadId, ReadingId } from '../core/reading.ts';
import type { ChangedReadings } from './changed-readings.ts';
import type { Database } from './database.ts';
import { joinFlags, splitFlags } from './row-values.ts';

/** One version of a placement. */
export interface StoredPlacement extends Placement {
  /** From 1; the highest counts. */
  readonly version: number;
  /** The download after which it was made. */
  readonly madeBy: DownloadId;
}

export interface Placements {
  /** Adds a version; gives its number. */
  add(reading: ReadingId, placement: Placement, madeBy: DownloadId): number;
  /** All versions of a reading, oldest first. */
  versions(reading: ReadingId): StoredPlacement[];
  /** The newest version of every placed reading of a meter, from a position in its order of tests on. */
  newest(meterNo: number, from?: number): Map<ReadingId, StoredPlacement>;
}

/** The columns of a placement. */
export interface PlacementRow {
  version: number;
  taken_at: number | null;
  earliest: number | null;
  latest: number | null;
  basis: TimeBasis;
  reason: string;
  flags: string;
}

/** A placement from its row. */
export const placementOf = (r: Omit<PlacementRow, 'version'>): Placement => ({
  ...(r.taken_at === null ? {} : { takenAt: instant(r.taken_at) }),
  ...(r.earliest === null ? {} : { earliest: instant(r.earliest) }),
  ...(r.latest === null ? {} : { latest: instant(r.latest) }),
  basis: r.basis,
  reason: r.reason,
  flags: splitFlags(r.flags),
});

type VersionRow = PlacementRow & { reading_id: ReadingId; made_by: DownloadId };

const storedOf = (r: VersionRow): StoredPlacement => ({ ...placementOf(r), version: r.version, madeBy: r.made_by });

/** The placements of a store. */
export function makePlacements(db: Database, changed: ChangedReadings): Placements {
  const insert = db.statement<{ version: number }>(`INSERT INTO placement
    SELECT :reading, coalesce(max(version), 0) + 1, :taken, :earliest, :latest, :basis, :reason, :flags, :madeBy
    FROM placement WHERE reading_id = :reading RETURNING version`);
  return {
    add(reading, placement, madeBy) {
      changed.note(reading);
      const row = insert.get({
        reading,
        taken: placement.takenAt ?? null,
        earliest: placement.earliest ?? null,
        latest: placement.latest ?? null,
        basis: placement.basis,
        reason: placement.reason,
        flags: joinFlags(placement.flags),
        madeBy,
      });
      return row?.version ?? 0;
    },
    versions: (reading) =>
      db
        .statement<VersionRow>('SELECT * FROM placement WHERE reading_id = ? ORDER BY version')
        .all(reading)
        .map(storedOf),
    newest: (meterNo, from = 0) =>
      new Map(
        db
          .statement<VersionRow>(
            `SELECT p.* FROM reading r JOIN placement p USING (reading_id) WHERE r.meter_no = ? AND r.position >= ?
              AND p.version = (SELECT max(version) FROM placement WHERE reading_id = r.reading_id)`,
          )
          .all(meterNo, from)
          .map((r) => [r.reading_id, storedOf(r)]),
      ),
  };
}
