/**
 * Two meters of Port Alder that say the same model and serial number and are docked in turn, at the level of memory
 * images, with their truth. Seeded; written from the design pages alone.
 */
import type { Download, ImageItem } from '../../src/core/download.ts';
import { instant } from '../../src/core/instant.ts';
import { meterTimeOf, wall } from '../../src/core/meter-time.ts';
import { downloadId, type TestRecord } from '../../src/core/reading.ts';
import { settle } from '../../src/memory/settle.ts';
import { EMPTY_MEMORY, type KnownTest, type MemoryState } from '../../src/memory/state.ts';
import { type Chance, chanceFrom } from '../../src/virtual/chance.ts';

export interface PairSetup {
  readonly protocol: 'line' | 'astm';
  readonly hasRuns: boolean;
  readonly resolutionMs: 1000 | 60_000;
  readonly order: 'newest' | 'oldest';
  readonly capacity: number;
  /** Share of downloads that break off. */
  readonly cuts: number;
  /** Share of moments at which both meters make a test, stamped alike. */
  readonly overlap: number;
  /** Share of visits at which the meter has been emptied since the one before. */
  readonly wipes: number;
}

/** A told test: which meter made it, and which test of that meter's life it is. */
export type Truth = `${'A' | 'B'}${number}`;

export interface PairDownload {
  readonly meter: 'A' | 'B';
  readonly download: Download;
  /** In the order of the tests. */
  readonly told: readonly Truth[];
}

const HOUR = 3_600_000;
const START = Date.UTC(2026, 1, 3, 8, 0, 0);

interface Made {
  readonly truth: Truth;
  readonly record: TestRecord;
}

/** Visits of both meters, in the order of time: the first of A, then of B, then as it comes but never many of one. */
export function pairOf(seed: number, setup: PairSetup, visits = 10): PairDownload[] {
  const chance = chanceFrom(seed);
  const lives = { A: [] as Made[], B: [] as Made[] };
  const runs = { A: 0, B: 500 };
  const counts = { A: 0, B: 0 };
  let now = START;
  const make = (meter: 'A' | 'B'): void => {
    const meterTime = meterTimeOf(wall(Math.floor(now / setup.resolutionMs) * setup.resolutionMs), setup.resolutionMs);
    lives[meter].push({
      truth: `${meter}${counts[meter]++}`,
      record: {
        place: '',
        ...(setup.hasRuns ? { runNumber: ++runs[meter] } : {}),
        meterTimeText: meterTime.text,
        meterTime,
        kind: 'patient',
        values: [{ analyte: 'INR', value: (chance.whole(15, 45) / 10).toFixed(1), unit: '{INR}' }],
        lot: chance.pick(['1200003', '1200017']),
        flags: [],
      },
    });
  };
  const out: PairDownload[] = [];
  for (let visit = 0; visit < visits; visit++) {
    const meter = visit === 0 ? 'A' : visit === 1 ? 'B' : chance.happens(0.3) ? (out.at(-1)?.meter ?? 'A') : other(out);
    if (visit > 1 && chance.happens(setup.wipes)) lives[meter].length = 0;
    const count = visit === 0 ? chance.whole(12, 30) : chance.whole(0, 8);
    for (let i = 0; i < count; i++) {
      now += chance.whole(1, 30) * HOUR + chance.whole(0, 3599) * 1000;
      const both = chance.happens(setup.overlap);
      const one = chance.pick<'A' | 'B'>(['A', 'B']);
      if (both || one === 'A') make('A');
      if (both || one === 'B') make('B');
    }
    now += HOUR;
    out.push(tell(lives[meter].slice(-setup.capacity), meter, setup, now, chance));
  }
  return out;
}

const other = (out: readonly PairDownload[]): 'A' | 'B' => (out.at(-1)?.meter === 'A' ? 'B' : 'A');

function tell(held: readonly Made[], meter: 'A' | 'B', setup: PairSetup, now: number, chance: Chance): PairDownload {
  const isCut = held.length > 1 && chance.happens(setup.cuts);
  const arrived = isCut ? chance.whole(0, held.length - 1) : held.length;
  const newestFirst = setup.order === 'newest';
  const told = newestFirst ? held.slice(held.length - arrived) : held.slice(0, arrived);
  const tests = told.map(({ record }, at): ImageItem => ({ kind: 'test', test: { ...record, place: `${at + 1}` } }));
  const hole: ImageItem = { kind: 'hole', atMost: held.length - arrived };
  const image = !isCut ? tests : arrived === 0 ? [] : newestFirst ? [hole, ...tests] : [...tests, hole];
  const shown = meterTimeOf(wall(now), 1000);
  const download: Download = {
    meter: { id: 'SN00042', model: 'GM-10' },
    protocol: setup.protocol,
    profile: 'tlp-generic',
    zone: 'UTC',
    port: 'tcp://dock.port-alder.example:4001',
    at: instant(now),
    until: instant(now + 5_000),
    order: setup.order,
    capacity: setup.capacity,
    held: held.length,
    complete: !isCut,
    ...(isCut ? { cut: 'cut-off' as const } : {}),
    image,
    fresh: [],
    clock: setup.protocol === 'line' ? [{ kind: 'anchor', shown, from: instant(now), to: instant(now + 500) }] : [],
    stats: { bytes: 0, damagedLines: 0, retries: 0, durationMs: 5_000 },
  };
  return { meter, download, told: told.map(({ truth }) => truth) };
}

export interface PairVerdict {
  /** Told tests that share a reading with another test. */
  readonly lost: readonly string[];
  /** Told tests that are two readings. */
  readonly doubled: readonly string[];
  /** Tests of one meter that stand in another order than they were made in. */
  readonly disordered: readonly string[];
  /** Visits at which it was said that two meters use the name. */
  readonly saidAt: readonly number[];
  /** Readings of both meters that are not marked, at the end. */
  readonly unmarked: number;
  readonly readings: number;
  /** Readings that may be repeats, as settling says. */
  readonly perhaps: number;
  /** The most items that the state ever held. */
  readonly largest: number;
  /** Memories to which downloads of both meters are laid: their clocks would be taken for one. */
  readonly mixed: number;
}

/** Settles the visits and compares with the truth. The state goes through JSON between two, as in the store. */
export function provePair(visits: readonly PairDownload[]): PairVerdict {
  let state: MemoryState = EMPTY_MEMORY;
  const readingOf = new Map<Truth, string>();
  const truthOf = new Map<string, Truth>();
  const readings = new Map<string, KnownTest>();
  const positions = new Map<string, number>();
  const memories = new Map<string, number>();
  const lost: string[] = [];
  const doubled: string[] = [];
  const saidAt: number[] = [];
  let largest = 0;
  for (const [at, visit] of visits.entries()) {
    const settled = settle(state, visit.download, downloadId(at + 1, 0));
    state = JSON.parse(JSON.stringify(settled.state));
    largest = Math.max(largest, state.sequence.length);
    if (settled.foundShared) saidAt.push(at);
    for (const test of [...settled.added, ...settled.changed]) readings.set(test.id, test);
    let position = settled.written.retired;
    for (const item of settled.written.sequence) {
      if (item.kind === 'test') positions.set(item.id, position);
      position += item.kind === 'past' ? item.count : Number(item.kind === 'test');
    }
    memories.set(downloadId(at + 1, 0), settled.memory);
    for (const { download, memory } of settled.relabelled) memories.set(download, memory);
    for (const [i, truth] of visit.told.entries()) {
      const reading = settled.sightings[i]?.reading ?? '';
      const known = readingOf.get(truth);
      if (known === undefined) readingOf.set(truth, reading);
      else if (known !== reading) doubled.push(`visit ${at}: ${truth} is ${reading} and ${known}`);
      const owner = truthOf.get(reading);
      if (owner === undefined) truthOf.set(reading, truth);
      else if (owner !== truth) lost.push(`visit ${at}: ${truth} went into ${reading} of ${owner}`);
    }
  }
  const disordered: string[] = [];
  for (const meter of ['A', 'B']) {
    const inOrder = [...readingOf]
      .filter(([truth]) => truth.startsWith(meter))
      .sort(([a], [b]) => Number(a.slice(1)) - Number(b.slice(1)));
    for (const [i, [truth, reading]] of inOrder.entries()) {
      const before = inOrder[i - 1]?.[1];
      if (before !== undefined && (positions.get(before) ?? 0) >= (positions.get(reading) ?? 0)) disordered.push(truth);
    }
  }
  const all = [...readings.values()];
  return {
    lost,
    doubled,
    disordered,
    saidAt,
    unmarked: all.filter(({ record }) => !record.flags.includes('identity-shared')).length,
    readings: all.length,
    perhaps: all.filter(({ record }) => record.flags.includes('perhaps-repeat')).length,
    largest,
    mixed: mixedIn(
      visits.flatMap(({ meter, told }, at) =>
        told.length > 0 ? [[memories.get(downloadId(at + 1, 0)) ?? 0, meter] as const] : [],
      ),
    ),
  };
}

function mixedIn(told: readonly (readonly [memory: number, meter: string])[]): number {
  const meters = new Map<number, Set<string>>();
  for (const [memory, meter] of told) meters.set(memory, (meters.get(memory) ?? new Set()).add(meter));
  return [...meters.values()].filter((names) => names.size > 1).length;
}
