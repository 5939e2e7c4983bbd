/**
 * Puts what the store knows of a meter's clock into the order of events: tests in the meter's own order, and each
 * download behind the newest test that was surely made before it.
 */
import type { ClockHabits, ClockHistory, ClockReadout, ClockTest } from '../clock/history.ts';
import { parseMeterTime } from '../core/meter-time.ts';
import type { ReadingId } from '../core/reading.ts';
import { zoneOf } from '../core/zone.ts';
import type { ClockDownloadRow, ClockHistoryRows } from '../store/clock-history.ts';
import type { MeterProfile } from '../wire/profile.ts';
import { dockedTests } from './made-at-dock.ts';

/** What the profile says about the clocks of this kind of meter. */
export const habitsOf = (profile: Pick<MeterProfile, 'driftPpm' | 'resetStamps'>): ClockHabits => ({
  driftPpm: profile.driftPpm,
  resets:
    profile.resetStamps === 'new-year'
      ? 'new-year'
      : profile.resetStamps.flatMap((text) => {
          const stamp = parseMeterTime(text);
          return stamp.ok ? [stamp.value.wall] : []; // the profile's schema lets only readable stamps through
        }),
});

const testOf = (row: ClockHistoryRows['tests'][number]): ClockTest => ({
  kind: 'test',
  id: row.id,
  ...(row.stamp === undefined ? {} : { stamp: row.stamp }),
  unset: row.unset,
  ...(row.lossCount === undefined ? {} : { lossCount: row.lossCount }),
  toldBy: row.toldBy,
});

const readoutOf = (
  d: ClockDownloadRow,
  mayPrecede: number | undefined,
  events: ClockReadout['events'],
): ClockReadout => ({
  kind: 'readout',
  id: d.id,
  events,
  ...(d.lossCount === undefined ? {} : { lossCount: d.lossCount }),
  ...(d.resetStamp === undefined ? {} : { resetStamp: d.resetStamp }),
  zone: zoneOf(d.zone),
  ...(mayPrecede === undefined ? {} : { mayPrecede }),
});

/** A history with, for each download, how many tests of the meter's whole life come before it. */
export interface ArrangedHistory {
  readonly history: ClockHistory;
  readonly positions: ReadonlyMap<string, number>;
}

/**
 * Arranges rows from the `offset`-th test of the meter on. A later download stands behind everything that an earlier
 * one stands behind, even where it told nothing itself. Where tests were made at the dock before the clock was set, the
 * download stands there twice: before them with what the clock showed, behind them with the setting.
 */
export function arrangeHistory(rows: ClockHistoryRows, habits: ClockHabits, offset = 0): ArrangedHistory {
  const indexOf = new Map<ReadingId, number>(rows.tests.map((t, i) => [t.id, i]));
  const items: (ClockTest | ClockReadout)[] = [];
  const positions = new Map<string, number>();
  let placed = 0;
  const put = (end: number): void => {
    for (; placed < end; placed++) {
      const row = rows.tests[placed];
      if (row) items.push(testOf(row));
    }
  };
  for (const d of rows.downloads) {
    const own = d.after === undefined ? 0 : (indexOf.get(d.after) ?? -1) + 1;
    const docked = dockedTests(rows.tests, d, Math.max(placed, own), placed);
    const before = docked.from;
    put(before);
    // Tests that had to be passed over are no longer among those that may precede it.
    const mayPrecede = d.mayPrecede === undefined ? undefined : Math.max(0, d.mayPrecede - Math.max(0, before - own));
    items.push(readoutOf(d, mayPrecede, d.clock.slice(0, docked.setting?.event)));
    if (docked.setting) {
      put(docked.setting.at);
      items.push(readoutOf(d, mayPrecede, d.clock.slice(docked.setting.event)));
    }
    positions.set(d.id, offset + before);
  }
  for (const row of rows.tests.slice(placed)) items.push(testOf(row));
  const zone = zoneOf(rows.downloads.at(-1)?.zone ?? 'UTC');
  return { history: { items, habits, zone }, positions };
}
