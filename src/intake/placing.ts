/**
 * Places the readings of a meter after a download has been settled: hands what the store knows to the clock room and
 * stores what changed. Works from the last checkpoint before which the new download changes nothing, so that the cost
 * of a download does not grow with the meter's life; where it does reach further back, it starts further back.
 */
import { type Checkpoint, type PlaceResult, place } from '../clock/place.ts';
import type { Instant } from '../core/instant.ts';
import type { Placement } from '../core/placement.ts';
import type { DownloadId, ReadingId } from '../core/reading.ts';
import { clockHistory, positionsOf } from '../store/clock-history.ts';
import type { Store } from '../store/store.ts';
import type { MeterProfile } from '../wire/profile.ts';
import { arrangeHistory, habitsOf } from './clock-history.ts';
import { readCheckpoints, type StoredCheckpoint, writeCheckpoints } from './clock-json.ts';
import { readMemoryState } from './memory-json.ts';

/** What settling a download changed. */
export interface PlacingNews {
  readonly meterNo: number;
  /** The download that has just been settled. */
  readonly download: DownloadId;
  readonly profile: MeterProfile;
  /** Readings that are new with this download, and known ones whose stamp is told more fully now. */
  readonly added: readonly ReadingId[];
  /** True where the whole meter was settled again because the download came late: any reading may have changed. */
  readonly refolded: boolean;
  /** True where several memories take turns under the meter's name: each has a clock of its own. */
  readonly isShared: boolean;
}

/** How many checkpoints are kept: the next download starts at one of the last few; older ones serve late surprises. */
const KEPT_CHECKPOINTS = 40;
/** Gaps that are always looked at again: whether a drift is steady shows only in the gap after. */
const GAPS_AGAIN = 2;

/** Stores new placements of the meter's readings where they changed. Called inside the intake's transaction. */
export function placeMeter(store: Store, news: PlacingNews): void {
  if (news.isShared) {
    placeEach(store, news);
    return;
  }
  const known = news.refolded ? [] : readCheckpoints(store.clock.get(news.meterNo) ?? '[]');
  const moved = Math.min(...positionsOf(store.db, news.added).values(), Number.POSITIVE_INFINITY);
  for (let back = GAPS_AGAIN; ; back = 2 * back + 1) {
    const start = known.at(-back);
    if (start && start.position > moved) continue;
    const { result, positions } = placeFrom(store, news, start);
    if (start && !isSame(result.atStart, start.tight)) continue;
    keep(store, news, result, start?.position ?? 0);
    store.incidents.replace(news.meterNo, 'clock', result.incidents, start?.incidents ?? 0);
    const before = start ? known.slice(0, known.length - back + 1) : [];
    const made = result.checkpoints.map((c): StoredCheckpoint => ({ ...c, position: positions.get(c.readout) ?? 0 }));
    store.clock.put(news.meterNo, writeCheckpoints([...before, ...made].slice(-KEPT_CHECKPOINTS)));
    return;
  }
}

/** Places each memory of a shared name by its own clock. Rare, so always from the beginning. */
function placeEach(store: Store, news: PlacingNews): void {
  const results = [...placeMemories(store, news.meterNo, news.profile).values()];
  for (const result of results) keep(store, news, result, 0);
  const incidents = results.flatMap((result) => result.incidents);
  store.incidents.replace(news.meterNo, 'clock', incidents, 0);
  store.clock.put(news.meterNo, writeCheckpoints([]));
}

/**
 * The clock room's view of each memory that was told under a meter's name, by its number, in the order of numbers. A
 * download that told no test is left out: nobody can say whose clock it showed.
 */
function placeMemories(store: Store, meterNo: number, profile: MeterProfile): Map<number, PlaceResult> {
  const rows = clockHistory(store.db, meterNo);
  const telling = rows.downloads.filter((d) => d.new + d.known > 0);
  const results = new Map<number, PlaceResult>();
  for (const memory of [...new Set(telling.map(numberOf))].sort((a, b) => a - b)) {
    const tests = rows.tests.filter((row) => numberOf(row) === memory);
    const downloads = telling.filter((row) => numberOf(row) === memory);
    results.set(memory, place(arrangeHistory({ tests, downloads }, habitsOf(profile)).history));
  }
  return results;
}

const numberOf = ({ memory = 0 }: { readonly memory?: number }): number => memory;

/** Runs the clock room over the meter's history from a checkpoint on, or over all of it. */
function placeFrom(
  store: Store,
  news: Pick<PlacingNews, 'meterNo' | 'profile'>,
  start: StoredCheckpoint | undefined,
): { result: PlaceResult; positions: ReadonlyMap<string, number> } {
  const from = start && { download: start.readout as DownloadId, position: start.position };
  const rows = clockHistory(store.db, news.meterNo, from);
  const { history, positions } = arrangeHistory(rows, habitsOf(news.profile), start?.position);
  const { position: _, ...checkpoint } = start ?? { position: 0 };
  return { result: place(history, start ? (checkpoint as Checkpoint) : undefined), positions };
}

/**
 * The clock room's view of a meter's whole history, for `explain`, lists and pictures. Where two meters share the name,
 * that of the memory which told a reading, or else which was told last.
 */
export function placeWhole(store: Store, meterNo: number, profile: MeterProfile, reading?: ReadingId): PlaceResult {
  const stored = store.memory.get(meterNo);
  const state = stored && readMemoryState(stored);
  if (state?.sharedAt === undefined) return placeFrom(store, { meterNo, profile }, undefined).result;
  const results = placeMemories(store, meterNo, profile);
  const told = [...results.values()].find(({ tests }) => tests.some((test) => test.id === reading));
  return told ?? results.get(state.memory ?? 0) ?? placeFrom(store, { meterNo, profile }, undefined).result;
}

const isSame = (a: Checkpoint['tight'] | undefined, b: Checkpoint['tight']): boolean =>
  a !== undefined && a.lo === b.lo && a.hi === b.hi;

/** Adds a version where what people and outlets see has changed. */
function keep(store: Store, news: PlacingNews, result: PlaceResult, from: number): void {
  const newest = store.placements.newest(news.meterNo, from);
  for (const { id, placement } of result.tests) {
    const reading = id as ReadingId;
    const old = newest.get(reading);
    if (!old || !looksSame(old, placement)) store.placements.add(reading, placement, news.download);
  }
}

/** Whether two placements are the same after the rounding of exports: estimate to seconds, bounds outwards. */
function looksSame(a: Placement, b: Placement): boolean {
  const second = (at: Instant | undefined, rounding: 'round' | 'floor' | 'ceil'): number | undefined =>
    at === undefined ? undefined : Math[rounding](at / 1000);
  return (
    second(a.takenAt, 'round') === second(b.takenAt, 'round') &&
    second(a.earliest, 'floor') === second(b.earliest, 'floor') &&
    second(a.latest, 'ceil') === second(b.latest, 'ceil') &&
    a.basis === b.basis &&
    a.flags.join(' ') === b.flags.join(' ')
  );
}
