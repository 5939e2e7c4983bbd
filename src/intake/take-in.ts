/**
 * The one way in: a capture's bytes, already safe in the store, are decoded, settled and placed, all in one
 * transaction. Used alike by collecting, replaying, recovering and rebuilding.
 */
import type { Capture } from '../core/capture.ts';
import type { Download } from '../core/download.ts';
import { meterKey } from '../core/download.ts';
import type { Instant } from '../core/instant.ts';
import { type DownloadId, downloadId } from '../core/reading.ts';
import { settle } from '../memory/settle.ts';
import { EMPTY_MEMORY, type Settled } from '../memory/state.ts';
import type { DownloadMoment, StoredDownload } from '../store/downloads.ts';
import type { StoredMeter } from '../store/meters.ts';
import type { SettledReading } from '../store/readings.ts';
import type { Store } from '../store/store.ts';
import { decodeCapture } from '../wire/decode.ts';
import { type ArrivedDownload, byMoment, type Folded, foldMeter, readingOf, testsByPlace } from './fold.ts';
import { readMemoryState, writeMemoryState } from './memory-json.ts';
import { placeMeter } from './placing.ts';
import { positionsAfter, positionsIn } from './positions.ts';
import type { ProfileLibrary } from './profile-library.ts';
import { factsOf, memoryIncidents } from './settling-facts.ts';

/** Who takes in, and when: for the audit chain. */
export interface IntakeContext {
  readonly now: Instant;
  /** The account and command, such as `ana: collect`. */
  readonly actor: string;
}

/** What became of a capture. No downloads: no meter named itself in it; its bytes are kept. */
export interface TakenIn {
  readonly captureNo: number;
  /** True where the capture had been taken in before: nothing was changed. */
  readonly already: boolean;
  readonly downloads: readonly StoredDownload[];
}

/**
 * Takes in a sealed capture. Throws PROFILE_UNKNOWN, PROFILE_INVALID or a Fault of the store; then nothing is changed
 * and the capture stays where it is, to be taken in later.
 */
export function takeInCapture(
  store: Store,
  captureNo: number,
  profiles: ProfileLibrary,
  context: IntakeContext,
): TakenIn {
  const { capture } = store.captures.load(captureNo);
  const decoded = decodeCapture(capture, profiles.get(capture.profile));
  return store.db.write(() => {
    const already = store.captures.isTakenIn(captureNo);
    if (!already) derive(store, captureNo, capture, decoded, profiles);
    const downloads = store.downloads.ofCapture(captureNo);
    if (!already) noteTakenIn(store, captureNo, downloads, context);
    return { captureNo, already, downloads };
  });
}

function noteTakenIn(
  store: Store,
  captureNo: number,
  downloads: readonly StoredDownload[],
  context: IntakeContext,
): void {
  store.audit.append({
    at: context.now,
    actor: context.actor,
    action: 'taken-in',
    subject: `capture ${captureNo}`,
    detail: {
      downloads: downloads.map((d) => d.id).join(' '),
      new: downloads.reduce((sum, d) => sum + d.new, 0),
      clockSet: downloads.some((d) => d.clockSet),
    },
  });
}

/**
 * Makes everything that follows from one capture, as the next in the order of arrival. Must run inside a transaction;
 * writes no audit row.
 */
export function derive(
  store: Store,
  captureNo: number,
  capture: Capture,
  decoded: readonly Download[],
  profiles: ProfileLibrary,
): void {
  const profile = profiles.get(capture.profile);
  const arrival = store.captures.markTakenIn(captureNo);
  for (const [ordinal, download] of decoded.entries()) {
    const meter = store.meters.ensure(download);
    const id = downloadId(captureNo, ordinal);
    const moment = { at: download.at, captureNo, ordinal };
    const newest = store.downloads.newestMoment(meter.meterNo);
    const isLate = newest !== undefined && byMoment(moment, newest) < 0;
    const arrived = { id, moment, arrival, download };
    const added = isLate ? settleAgain(store, meter, arrived, profiles) : settleNext(store, meter, arrived);
    placeMeter(store, {
      meterNo: meter.meterNo,
      download: id,
      profile,
      added: added.map((r) => r.id),
      refolded: isLate,
    });
  }
}

/** Settles a download that is the meter's newest: only what it changes is written. Gives the new readings. */
function settleNext(store: Store, meter: StoredMeter, { id, moment, download }: ArrivedDownload): SettledReading[] {
  const { meterNo } = meter;
  const json = store.memory.get(meterNo);
  const before = json === undefined ? EMPTY_MEMORY : readMemoryState(json);
  const settled = settle(before, download, id);
  store.downloads.add(id, moment, meterNo, download, factsOf(settled));
  const positions = positionsAfter(before, settled);
  const added = newReadings(meterNo, settled, positions, id, download);
  for (const reading of added) store.readings.add(reading);
  for (const known of settled.changed) {
    const stored = store.readings.get(known.id);
    if (!stored) continue;
    const position = positions.get(known.id) ?? stored.position;
    const { firstDownload, earliestDownload, record } = stored;
    store.readings.replace(readingOf(meterNo, known, position, firstDownload, earliestDownload, record));
  }
  const old = positionsIn(before);
  for (const [reading, position] of positions) {
    if (old.has(reading) && old.get(reading) !== position) store.readings.move(reading, position);
  }
  store.incidents.add(meterNo, 'settling', memoryIncidents(before, settled, download, id));
  store.memory.put(meterNo, writeMemoryState(settled.state));
  store.meters.refresh(meter, download);
  return added;
}

function newReadings(
  meterNo: number,
  settled: Settled,
  positions: ReadonlyMap<string, number>,
  id: DownloadId,
  download: Download,
): SettledReading[] {
  const tests = testsByPlace(download);
  const placeOf = new Map(settled.sightings.map((s) => [s.reading, s.place]));
  return settled.added.map((known) => {
    const first = tests.get(placeOf.get(known.id) ?? '') ?? known.record;
    return readingOf(meterNo, known, positions.get(known.id) ?? 0, id, id, first);
  });
}

/** Settles the whole meter again because a download came late. Gives the readings that were not there before. */
function settleAgain(
  store: Store,
  meter: StoredMeter,
  late: ArrivedDownload,
  profiles: ProfileLibrary,
): SettledReading[] {
  const { meterNo } = meter;
  const earlier = downloadsOfMeter(store, meter, profiles);
  const folded = foldMeter(meterNo, [...earlier, late]);
  const facts = folded.facts.get(late.id);
  if (facts) store.downloads.add(late.id, late.moment, meterNo, late.download, facts);
  for (const { id } of earlier) {
    const again = folded.facts.get(id);
    if (again) store.downloads.resettle(id, again);
  }
  const added = replaceReadings(store, meterNo, folded);
  store.incidents.replace(meterNo, 'settling', folded.incidents);
  store.memory.put(meterNo, writeMemoryState(folded.state));
  return added;
}

/** Brings the stored readings of a meter to what the fold says; rows that are the same are left alone. */
function replaceReadings(store: Store, meterNo: number, folded: Folded): SettledReading[] {
  const stored = new Map(store.readings.ofMeter(meterNo).map((reading) => [reading.id, reading]));
  const kept = new Set(folded.readings.map((reading) => reading.id));
  for (const id of stored.keys()) if (!kept.has(id)) store.readings.drop(id);
  const added: SettledReading[] = [];
  for (const reading of folded.readings) {
    const old = stored.get(reading.id);
    if (!old) {
      store.readings.add(reading);
      added.push(reading);
    } else store.readings.replaceIfChanged(old, reading);
  }
  return added;
}

/** All stored downloads of a meter, decoded again from their captures. */
export function downloadsOfMeter(store: Store, meter: StoredMeter, profiles: ProfileLibrary): ArrivedDownload[] {
  const key = meterKey(meter);
  const stored = store.downloads.list(meter.meterNo);
  const known = new Set(stored.map((d) => d.id));
  return [...new Set(stored.map((d) => d.captureNo))].flatMap((captureNo) => {
    const { capture, arrival } = store.captures.load(captureNo);
    return decodeCapture(capture, profiles.get(capture.profile)).flatMap((download, ordinal) => {
      const id = downloadId(captureNo, ordinal);
      const isOurs = meterKey(download.meter) === key && known.has(id);
      const moment: DownloadMoment = { at: download.at, captureNo, ordinal };
      return isOurs ? [{ id, moment, arrival: arrival ?? 0, download }] : [];
    });
  });
}
