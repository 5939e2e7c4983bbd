/**
 * What of a page of the log an outlet must be told: only the newest version of a reading, and only if it is one that the
 * outlet wants or must take back. Pure.
 */
import type { ReadingId } from '../core/reading.ts';
import type { EarlierVersion, LogRow } from '../store/outgoing.ts';
import { versionKey } from '../store/outlets.ts';
import { type OutletFilter, passes } from './filter.ts';
import type { Delivery } from './outlet.ts';

/** A delivery before its content is known. */
export interface Chosen extends Pick<Delivery, 'seq' | 'isWithdrawn' | 'before'> {
  readonly reading: ReadingId;
  readonly version: number;
}

/** What an outlet was told so far: every version up to `offered`, except the gaps. */
export interface Told {
  readonly offered: number;
  /** Versions behind `offered` that it never had, as `versionKey` names them. */
  readonly gaps: ReadonlySet<string>;
  /** All versions of the readings in question, oldest first. */
  readonly versions: ReadonlyMap<ReadingId, readonly EarlierVersion[]>;
}

export interface Choice {
  readonly deliveries: readonly Chosen[];
  /** Versions that a newer one has overtaken before the outlet could have them. */
  readonly passedOver: readonly LogRow[];
}

/** Chooses from a page. */
export function choose(rows: readonly LogRow[], filter: OutletFilter, told: Told): Choice {
  const deliveries: Chosen[] = [];
  const passedOver: LogRow[] = [];
  for (const row of rows) {
    if (row.version < row.newest) {
      if (row.seq > told.offered) passedOver.push(row);
      continue;
    }
    const chosen = chooseOne(row, filter, told);
    if (chosen) deliveries.push(chosen);
  }
  return { deliveries, passedOver };
}

/** The delivery of the newest version of a reading; undefined where the outlet has nothing to do with it. */
function chooseOne(row: LogRow, filter: OutletFilter, told: Told): Chosen | undefined {
  const { seq, reading, version, kind, meterId } = row;
  const isWanted = passes(filter, row);
  if (version === 1) return isWanted ? { seq, reading, version, isWithdrawn: false } : undefined;
  const had = (told.versions.get(reading) ?? []).filter(
    (v) => v.version < version && v.seq <= told.offered && !told.gaps.has(versionKey(reading, v.version)),
  );
  const wasWanted = (v: EarlierVersion | undefined): boolean =>
    v !== undefined && passes(filter, { status: v.status, kind, meterId });
  // Where the last version that it was told took the reading back, there is nothing more to take back.
  if (!isWanted && !wasWanted(had.at(-1))) return undefined;
  const last = had.findLast(wasWanted);
  return {
    seq,
    reading,
    version,
    isWithdrawn: !isWanted,
    ...(last ? { before: beforeOf(last) } : {}),
  };
}

const beforeOf = ({ version, status, patientId }: EarlierVersion): NonNullable<Delivery['before']> => ({
  version,
  status,
  ...(patientId === undefined ? {} : { patientId }),
});
