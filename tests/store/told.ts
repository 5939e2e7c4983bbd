/** Downloads and readings of invented meters, put into a store by hand. */
import type { Download } from '../../src/core/download.ts';
import { instant } from '../../src/core/instant.ts';
import { meterTimeOf, wall } from '../../src/core/meter-time.ts';
import { downloadId, readingId, type TestRecord } from '../../src/core/reading.ts';
import { fingerprint } from '../../src/store/capture-pack.ts';
import type { SettlingFacts } from '../../src/store/downloads.ts';
import type { SettledReading } from '../../src/store/readings.ts';
import type { Store } from '../../src/store/store.ts';

export const NOTHING_NEW: SettlingFacts = {
  new: 0,
  known: 0,
  vanished: 0,
  possiblyLost: false,
  runRestarted: false,
  doubtful: false,
};

/** A complete download of an empty memory. */
export const download = (change: Partial<Download> = {}): Download => ({
  meter: { id: 'PA00042', model: 'GM-10', firmware: '1.0' },
  protocol: 'line',
  profile: 'tlp-generic',
  zone: 'Europe/Lisbon',
  port: 'COM3',
  at: instant(10_000),
  until: instant(12_000),
  order: 'newest',
  complete: true,
  image: [],
  fresh: [],
  clock: [],
  stats: { bytes: 400, damagedLines: 0, retries: 0, durationMs: 2_000 },
  ...change,
});

/** An INR test in slot 3. */
const record = (change: Partial<TestRecord> = {}): TestRecord => ({
  place: '3',
  slot: 3,
  meterTimeText: '2026-03-01T18:55',
  meterTime: meterTimeOf(wall(Date.UTC(2026, 2, 1, 18, 55)), 60_000),
  kind: 'patient',
  values: [{ analyte: 'INR', value: '2.60', unit: '{INR}' }],
  flags: [],
  ...change,
});

/** Stores a download as the only one of the next capture; gives its id and the number of its meter. */
export function putDownload(store: Store, told: Download, facts: SettlingFacts = NOTHING_NEW) {
  const capture = { port: told.port, profile: told.profile, zone: told.zone, openedAt: told.at, chunks: [] };
  // The meter makes the fingerprint differ, since these captures are empty.
  const sha256 = fingerprint({ ...capture, port: `${told.meter.id} ${told.at}` });
  const captureNo = store.captures.add(capture, sha256, { pid: 1 });
  const { meterNo } = store.meters.ensure(told);
  const id = downloadId(captureNo, 0);
  store.downloads.add(id, { at: told.at, captureNo, ordinal: 0 }, meterNo, told, facts);
  return { id, meterNo };
}

/** A settled reading of a stored download. */
export const reading = (
  from: ReturnType<typeof putDownload>,
  position: number,
  change: Partial<TestRecord> = {},
): SettledReading => ({
  id: readingId(from.id, change.place ?? '3'),
  meterNo: from.meterNo,
  position,
  firstDownload: from.id,
  earliestDownload: from.id,
  record: record(change),
  status: 'settled',
});
