/**
 * The meters of a compressed day at the docks: each has a past, is tested between its visits, and remembers every test
 * that it ever held, so that a store can be held against the truth.
 */
import { wall } from '../../src/core/meter-time.ts';
import type { Value } from '../../src/core/reading.ts';
import { zoneOf } from '../../src/core/zone.ts';
import type { ListedReading } from '../../src/store/readings.ts';
import { chanceFrom } from '../../src/virtual/chance.ts';
import { createCourse } from '../../src/virtual/course.ts';
import { NO_FAULTS } from '../../src/virtual/faults.ts';
import type { StoredTest } from '../../src/virtual/memory.ts';
import { shownClock } from '../../src/virtual/meter.ts';
import { meterWithPast, weeklyMoments } from '../../src/virtual/past.ts';
import { type VirtualPort, virtualPort } from '../../src/virtual/port.ts';
import { astmSpeaker } from '../../src/virtual/speak-astm.ts';
import { lineSpeaker } from '../../src/virtual/speak-line.ts';
import { realNow } from '../support/meters.ts';

export interface DayMeter {
  readonly id: string;
  readonly protocol: 'line' | 'astm';
  readonly port: VirtualPort;
  /** Every test that was ever in its memory, oldest first. */
  readonly tests: StoredTest[];
  /** Tests that the store must have, by their place in `tests`: each was in the memory during a whole download. */
  readonly owed: Set<number>;
  /** A test ends now, docked or not. Nothing where the meter's clock still shows the second of an earlier one. */
  test(): void;
  /** The places in `tests` of what the memory holds now. */
  held(): number[];
}

/** Quick enough for a compressed day, slow enough that conversations can be hit. */
const BAUD = 115_200;
const ZONE = zoneOf('UTC');

/**
 * A meter of its own kind, drawn from the chance: memory order, with or without run numbers and counted power losses,
 * a clock that is right, off, or was lost; the memory so full that it soon overwrites its oldest tests.
 */
export function dayMeter(id: string, protocol: 'line' | 'astm', seed: number): DayMeter {
  const chance = chanceFrom(seed);
  const now = realNow();
  const past = chance.whole(8, 50);
  const course = createCourse(chance, { people: 5, controls: 0.1, errors: 0.1, tellsExpiry: true });
  const made = meterWithPast(
    {
      id,
      model: 'GM-10',
      capacity: past + chance.whole(0, 12),
      // What sends by itself is read with the profile that says newest first.
      order: protocol === 'astm' ? 'newest' : chance.pick(['newest', 'oldest', 'ring']),
      stampResolutionMs: 1000,
      tellsRunNumbers: chance.happens(0.5),
      tellsLosses: chance.happens(0.5),
      defaultStamp: wall(Date.UTC(2000, 0, 1)),
      driftPpm: chance.whole(-20, 20),
      clockOffMs: chance.pick([0, 0, 3_600_000, -720_000]),
      clockLost: chance.happens(0.2),
      deletions: 0,
    },
    weeklyMoments(chance, past, now, ZONE),
    ZONE,
    now,
    chance,
    course,
  );
  const faults = { ...NO_FAULTS, baud: BAUD };
  const port =
    protocol === 'astm'
      ? virtualPort(astmSpeaker(), made, faults, chance, realNow)
      : virtualPort(lineSpeaker(), made, faults, chance, realNow);
  const tests = made.memory.held.map(({ test }) => test);
  return {
    id,
    protocol,
    port,
    tests,
    owed: new Set(),
    test() {
      const shows = shownClock(port.meter(), realNow(), 1000);
      if (tests.some(({ stamp }) => stamp === shows)) return;
      port.test(course.next(realNow()));
      const newest = port.meter().memory.held.at(-1);
      if (newest) tests.push(newest.test);
    },
    held() {
      const held = new Set(port.meter().memory.held.map(({ test }) => test.made));
      return tests.flatMap(({ made: which }, place) => (held.has(which) ? [place] : []));
    },
  };
}

/** What a store says of one meter, held against the truth. */
export interface MeterVerdict {
  /** Readings that stand for no test of the meter, or for one that another stands for, or in the wrong order; in words. */
  readonly wrong: readonly string[];
  /** Readings of tests that a whole download told, and that are not settled for all that; in words. */
  readonly unsettled: readonly string[];
  /** Readings of a test that another reading is of, too. */
  readonly doubled: number;
  /** Tests that the store must have and has not. */
  readonly lost: number;
}

/** Holds the readings of a meter, in the store's order, against its tests. No two of these have the same stamp. */
export function judgeMeter(meter: DayMeter, readings: readonly ListedReading[]): MeterVerdict {
  const places = new Map(meter.tests.map(({ stamp }, place) => [stamp, place]));
  const seen = new Set<number>();
  const wrong: string[] = [];
  const unsettled: string[] = [];
  let doubled = 0;
  let last = -1;
  for (const { id, record, status } of readings) {
    const place = places.get(record.meterTimeText) ?? -1;
    const test = meter.tests[place];
    if (!test || test.kind !== record.kind || !hasOnly(test, record.values)) {
      wrong.push(`${meter.id}: ${id} (${record.meterTimeText}) was never told`);
      continue;
    }
    if (seen.has(place)) {
      doubled++;
      wrong.push(`${meter.id}: ${id} (${record.meterTimeText}) is there twice`);
    } else if (place < last) wrong.push(`${meter.id}: ${id} (${record.meterTimeText}) is out of order`);
    if (meter.owed.has(place) && status !== 'settled') unsettled.push(`${meter.id}: ${id} is still ${status}`);
    seen.add(place);
    last = Math.max(last, place);
  }
  return { wrong, unsettled, doubled, lost: [...meter.owed].filter((place) => !seen.has(place)).length };
}

/** True where every value is one that the test gave; a telling that broke off may have fewer of them. */
const hasOnly = (test: StoredTest, values: readonly Value[]): boolean =>
  values.every(({ analyte, value }) => test.values.some((told) => told.analyte === analyte && told.value === value));
