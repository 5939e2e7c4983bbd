/** Settles a download that is its meter's newest, and writes only what it changes. */
import type { Download } from '../core/download.ts';
import type { DownloadId, ReadingId } from '../core/reading.ts';
import { settle } from '../memory/settle.ts';
import { EMPTY_MEMORY, type KnownTest, type Settled } from '../memory/state.ts';
import type { StoredMeter } from '../store/meters.ts';
import type { SettledReading } from '../store/readings.ts';
import type { Store } from '../store/store.ts';
import type { ArrivedDownload } from './fold.ts';
import { readMemoryState, writeMemoryState } from './memory-json.ts';
import { positionsIn } from './positions.ts';
import { readingOf, testsByPlace } from './settled-reading.ts';
import { factsOf, memoryIncidents } from './settling-facts.ts';

/** What placing must know of a download that was settled. */
export interface SettledNext {
  /** The readings whose times have to be found: new ones, and known ones whose stamp is told more fully now. */
  readonly added: readonly ReadingId[];
  /** True where several memories take turns under the meter's name. */
  readonly isShared: boolean;
}

/** Stores the download with its new readings, and what it changes of the known ones. */
export function settleNext(store: Store, meter: StoredMeter, { id, moment, download }: ArrivedDownload): SettledNext {
  const { meterNo } = meter;
  const stored = store.memory.get(meterNo);
  const before = stored ? readMemoryState(stored) : EMPTY_MEMORY;
  const settled = settle(before, download, id);
  store.downloads.add(id, moment, meterNo, download, factsOf(settled));
  for (const { download: earlier, memory } of settled.relabelled) store.downloads.relabel(earlier, memory);
  const positions = positionsIn(settled.written);
  for (const reading of newReadings(meterNo, settled, positions, id, download)) store.readings.add(reading);
  const restamped = settled.changed.filter((known) => rewrite(store, known, positions)).map((known) => known.id);
  const old = positionsIn(before);
  for (const [reading, position] of positions) {
    if (old.has(reading) && old.get(reading) !== position) store.readings.move(reading, position);
  }
  store.incidents.add(meterNo, 'settling', memoryIncidents(before, settled, download, id));
  store.memory.put(meterNo, writeMemoryState(settled.state));
  store.meters.refresh(meter, download);
  const added = [...settled.added.map((known) => known.id), ...restamped];
  return { added, isShared: settled.state.sharedAt !== undefined };
}

function newReadings(
  meterNo: number,
  settled: Settled,
  positions: ReadonlyMap<ReadingId, number>,
  id: DownloadId,
  download: Download,
): SettledReading[] {
  if (settled.added.length === 0) return [];
  const tests = testsByPlace(download);
  const placeOf = new Map(settled.sightings.map((sighting) => [sighting.reading, sighting.place]));
  return settled.added.map((known) => {
    const first = tests.get(placeOf.get(known.id) ?? '') ?? known.record;
    return readingOf(meterNo, known, positions.get(known.id) ?? 0, id, id, first);
  });
}

/** Brings a stored reading to what settling says now. True where its stamp, or what bears on it, is another. */
function rewrite(store: Store, known: KnownTest, positions: ReadonlyMap<ReadingId, number>): boolean {
  const stored = store.readings.get(known.id);
  if (!stored) return false; // it is new with this download and has just been stored as it is
  const { meterNo, firstDownload, earliestDownload, record } = stored;
  const position = positions.get(known.id) ?? stored.position;
  store.readings.replace(readingOf(meterNo, known, position, firstDownload, earliestDownload, record));
  return record.meterTimeText !== known.record.meterTimeText || record.lossCount !== known.record.lossCount;
}
