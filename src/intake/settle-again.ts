/** Settles all downloads of a meter again because one came late, and brings the store to what comes out. */
import { meterKey } from '../core/download.ts';
import { downloadId } from '../core/reading.ts';
import type { StoredMeter } from '../store/meters.ts';
import type { Store } from '../store/store.ts';
import { decodeCapture } from '../wire/decode.ts';
import { type ArrivedDownload, type Folded, foldMeter } from './fold.ts';
import { writeMemoryState } from './memory-json.ts';
import type { ProfileLibrary } from './profile-library.ts';

/**
 * Stores the late download and everything that it changes of the meter's readings, downloads and incidents. Gives
 * whether several memories take turns under the meter's name.
 */
export function settleAgain(
  store: Store,
  meter: StoredMeter,
  late: ArrivedDownload,
  profiles: ProfileLibrary,
): { readonly isShared: boolean } {
  const { meterNo } = meter;
  const earlier = downloadsOfMeter(store, meter, profiles);
  const folded = foldMeter(meterNo, [...earlier, late]);
  const facts = folded.facts.get(late.id);
  if (facts) store.downloads.add(late.id, late.moment, meterNo, late.download, facts);
  for (const { id } of earlier) {
    const again = folded.facts.get(id);
    if (again) store.downloads.resettle(id, again);
  }
  replaceReadings(store, meterNo, folded);
  store.incidents.replace(meterNo, 'settling', folded.incidents);
  store.memory.put(meterNo, writeMemoryState(folded.state));
  return { isShared: folded.state.sharedAt !== undefined };
}

/** Brings the stored readings of a meter to what the fold says; rows that are the same are left alone. */
function replaceReadings(store: Store, meterNo: number, folded: Folded): void {
  const stored = new Map(store.readings.ofMeter(meterNo).map((reading) => [reading.id, reading]));
  const kept = new Set(folded.readings.map((reading) => reading.id));
  for (const id of stored.keys()) if (!kept.has(id)) store.readings.drop(id);
  for (const reading of folded.readings) {
    const old = stored.get(reading.id);
    if (old) store.readings.replaceIfChanged(old, reading);
    else store.readings.add(reading);
  }
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
      return isOurs ? [{ id, moment: { at: download.at, captureNo, ordinal }, arrival: arrival ?? 0, download }] : [];
    });
  });
}
