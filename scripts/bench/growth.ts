/**
 * What one download costs in a store that has grown: a lent meter with a full memory of 200 is read for the first time,
 * and then again and again with one test more. The same meters are read into a small store and into large ones in turn,
 * so that the machine's moods fall on all alike. 10,000 and 100,000 readings of 1,000 people; `npm run bench growth --
 * --full` for 10,000, a million and ten million readings of 10,000 people (15 GB of disk while it runs).
 */
import { mkdirSync, mkdtempSync, rmSync, statSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { DEFAULT_POLICY } from '../../src/clinic/rules/policy.ts';
import { type Instant, instant } from '../../src/core/instant.ts';
import { zoneOf } from '../../src/core/zone.ts';
import { takeInCapture } from '../../src/intake/take-in.ts';
import { lendMeter } from '../../src/record/lending.ts';
import { fingerprint } from '../../src/store/capture-pack.ts';
import { openStore } from '../../src/store/open-store.ts';
import { ownMark } from '../../src/store/process-mark.ts';
import { STORE_FILE } from '../../src/store/store-file.ts';
import { chanceFrom } from '../../src/virtual/chance.ts';
import { createCourse } from '../../src/virtual/course.ts';
import { makeTest } from '../../src/virtual/meter.ts';
import { visit } from '../../src/virtual/visit.ts';
import { fillStore } from './lib/full-store.ts';
import { fullMeter, profiles, SEED } from './lib/meters.ts';
import { median, report } from './lib/report.ts';

const IS_FULL = process.argv.includes('--full');
const PEOPLE = IS_FULL ? 10_000 : 1_000;
const SIZES = IS_FULL ? [10_000, 1_000_000, 10_000_000] : [10_000, 100_000];
const METERS = IS_FULL ? 8 : 4;
const VISITS = IS_FULL ? 12 : 8;
/** Meters that are read before anything counts. */
const WARM_UP = 2;
const TESTS = 200;
const DAY_MS = 86_400_000;
const ZONE = zoneOf('Europe/Lisbon');
const START = Date.UTC(2026, 2, 2, 10, 15);

/** A store under measurement, and what its downloads took, in milliseconds by the clock on the wall. */
interface Grown {
  readonly readings: number;
  readonly store: ReturnType<typeof openStore>;
  readonly first: number[];
  readonly again: number[];
}

function grow(dir: string, readings: number): Grown {
  mkdirSync(dir);
  const start = process.hrtime.bigint();
  fillStore(dir, readings, readings / PEOPLE);
  const seconds = Number(process.hrtime.bigint() - start) / 1e9;
  const size = statSync(join(dir, STORE_FILE)).size / 1e6;
  console.log(
    `  ${readings} readings of ${PEOPLE} people: ${size.toFixed(0)} MB, filled by SQL in ${seconds.toFixed(0)} s`,
  );
  return { readings, store: openStore({ dir, now: instant(START) }), first: [], again: [] };
}

/** Reads one meter at each of its visits into every store. */
function readMeter(stores: readonly Grown[], n: number): void {
  const chance = chanceFrom(SEED + n);
  const course = createCourse(chance, { people: 1, controls: 0.05, errors: 0.02, tellsExpiry: true });
  let meter = { ...fullMeter(TESTS, 'line', SEED + n), id: `GROWTH-${n}` };
  const dock = { port: 'COM3', zone: ZONE, protocol: 'line', setsClock: 'never' } as const;
  for (const { store } of stores) {
    const context = { now: instant(START), by: 'bench', policy: DEFAULT_POLICY };
    const patientId = `ALDER-${String((n * 97) % PEOPLE).padStart(4, '0')}`;
    lendMeter(store, context, { meterId: meter.id, patientId, from: instant(0) });
  }
  for (let visitNo = 0; visitNo <= VISITS; visitNo++) {
    const at = instant(START + (n + visitNo * METERS) * DAY_MS);
    if (visitNo > 0) meter = makeTest(meter, instant(at - DAY_MS / 2), course.next(at));
    const { capture } = visit(meter, dock, at, { baud: 9600, cutsReads: true }, chance);
    // Every store has its turn at being the first.
    for (let i = 0; i < stores.length; i++) {
      const grown = stores[(i + visitNo) % stores.length];
      if (!grown) continue;
      const ms = takeIn(grown.store, capture, at, visitNo === 0 ? TESTS : 1);
      if (n >= WARM_UP) (visitNo === 0 ? grown.first : grown.again).push(ms);
    }
  }
}

/** Milliseconds that it takes to store a capture and to take it in. */
function takeIn(store: Grown['store'], capture: Parameters<typeof fingerprint>[0], now: Instant, news: number): number {
  const start = process.hrtime.bigint();
  const captureNo = store.captures.add(capture, fingerprint(capture), ownMark());
  const { downloads } = takeInCapture(store, captureNo, profiles, { now, actor: 'bench' });
  const ms = Number(process.hrtime.bigint() - start) / 1e6;
  const [taken] = downloads;
  if (taken?.complete !== true || taken.new !== news) throw new Error(`${taken?.new} new instead of ${news}`);
  return ms;
}

const dir = mkdtempSync(join(tmpdir(), 'tallydock-growth-'));
const stores: Grown[] = [];
try {
  for (const readings of SIZES) stores.push(grow(join(dir, String(readings)), readings));
  for (let n = 0; n < METERS + WARM_UP; n++) readMeter(stores, n);
  const [small, ...large] = stores;
  for (const grown of large) {
    for (const [what, of] of [
      ['first download of 200 tests', (g: Grown) => g.first],
      ['download with one new test of 200', (g: Grown) => g.again],
    ] as const) {
      report({
        what: `${what}, beside ${grown.readings} readings`,
        against: `beside ${small?.readings}`,
        baseline: median(small ? of(small) : []),
        figure: median(of(grown)),
        unit: 'ms',
        aim: { kind: 'at-most', ratio: 1.5 },
      });
    }
  }
} finally {
  for (const { store } of stores) store.close();
  rmSync(dir, { recursive: true, force: true });
}
