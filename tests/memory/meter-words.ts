/**
 * Short words for settling tests: tests, images and downloads of an imagined meter, and a fold over several
 * downloads. `hole` stands for tests that were not told.
 */
import type { Download, ImageItem } from '../../src/core/download.ts';
import { instant } from '../../src/core/instant.ts';
import { meterTimeOf, parseMeterTime, wall } from '../../src/core/meter-time.ts';
import { downloadId, type ReadingId, type TestRecord } from '../../src/core/reading.ts';
import { settle } from '../../src/memory/settle.ts';
import { EMPTY_MEMORY, type KnownTest, type MemoryState, type Settled } from '../../src/memory/state.ts';

const DAY = 86_400_000;
export const START = Date.UTC(2026, 2, 1, 8, 0, 0);

/** A patient test made on a day after the start, at a second of that day; its value follows from the day. */
export function test(
  day: number,
  more: Partial<TestRecord> & { inr?: string; resolutionMs?: number } = {},
): TestRecord {
  const { inr, resolutionMs, ...facts } = more;
  const meterTime = meterTimeOf(wall(START + day * DAY), resolutionMs ?? 1000);
  return {
    place: '',
    meterTimeText: meterTime.text,
    meterTime,
    kind: 'patient',
    values: [{ analyte: 'INR', value: inr ?? `${2 + (day % 10) / 10}`, unit: '{INR}' }],
    flags: [],
    ...facts,
  };
}

/** An error test at a stamp. */
export function errorTest(text: string, code = 'E4', more: Partial<TestRecord> = {}): TestRecord {
  const time = parseMeterTime(text);
  return {
    place: '',
    meterTimeText: text,
    ...(time.ok ? { meterTime: time.value } : {}),
    kind: 'error',
    values: [],
    errorCode: code,
    flags: [],
    ...more,
  };
}

export const hole = 'hole' as const;
type Told = TestRecord | typeof hole;

/** A download on a day that tells an image, oldest first. Complete unless it has a hole. */
export function download(day: number, image: readonly Told[], more: Partial<Download> = {}): Download {
  const items: ImageItem[] = image.map((told, at) =>
    told === hole ? { kind: 'hole' } : { kind: 'test', test: { ...told, place: told.place || `${at + 1}` } },
  );
  const complete = more.complete ?? !image.includes(hole);
  return {
    meter: { id: 'SN00042', model: 'GM-10' },
    protocol: 'line',
    profile: 'tlp-generic',
    zone: 'Europe/Lisbon',
    port: 'tcp://dock.port-alder.example:4001',
    at: instant(START + day * DAY),
    until: instant(START + day * DAY + 5_000),
    order: 'newest',
    capacity: 200,
    ...(complete ? { held: image.length } : { cut: 'cut-off' as const }),
    complete,
    image: items,
    fresh: [],
    clock: [],
    stats: { bytes: 0, damagedLines: 0, retries: 0, durationMs: 5_000 },
    ...more,
  };
}

/** A test of a day as the first download told it, known since: `D1-` and the day is its id. */
export const knownOn = (day: number, more: Partial<KnownTest> = {}): KnownTest => ({
  kind: 'test',
  id: `D1-${day}` as ReadingId,
  record: { ...test(day), place: `${day}` },
  status: 'settled',
  ...more,
});

export interface Story {
  readonly state: MemoryState;
  readonly steps: readonly Settled[];
  readonly last: Settled;
}

/** Settles downloads one after the other; the state goes through JSON between two, as in the store. */
export function fold(...downloads: readonly Download[]): Story {
  let state = EMPTY_MEMORY;
  const steps = downloads.map((d, at) => {
    const settled = settle(state, d, downloadId(at + 1, 0));
    state = JSON.parse(JSON.stringify(settled.state));
    return settled;
  });
  const last = steps.at(-1);
  if (!last) throw new Error('a story needs a download');
  return { state, steps, last };
}

/** The ids in the sequence, oldest first, `…` for a gap. */
export const order = (state: MemoryState): string[] => state.sequence.map((i) => (i.kind === 'test' ? i.id : '…'));

/** The tests in the sequence. */
export const testsOf = (state: MemoryState): KnownTest[] =>
  state.sequence.filter((item): item is KnownTest => item.kind === 'test');
