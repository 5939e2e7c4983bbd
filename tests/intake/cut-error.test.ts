/** A telling of error tests that breaks off at any byte, and then a whole one: each test stays the reading that it was. */
import { expect, it } from 'vitest';
import { instant } from '../../src/core/instant.ts';
import { wall } from '../../src/core/meter-time.ts';
import { downloadId } from '../../src/core/reading.ts';
import { zoneOf } from '../../src/core/zone.ts';
import { type ArrivedDownload, foldMeter } from '../../src/intake/fold.ts';
import { loadProfiles } from '../../src/intake/profile-library.ts';
import type { SettledReading } from '../../src/store/readings.ts';
import { chanceFrom } from '../../src/virtual/chance.ts';
import { createCourse } from '../../src/virtual/course.ts';
import { meterWithPast, weeklyMoments } from '../../src/virtual/past.ts';
import { visit } from '../../src/virtual/visit.ts';
import { decodeCapture } from '../../src/wire/decode.ts';
import { seedOr } from '../support/seed.ts';

const SEED = seedOr(20260301);
const AT = instant(Date.UTC(2026, 2, 2, 10));
const DOCK = { port: 'COM3', zone: zoneOf('Europe/Lisbon'), protocol: 'astm', setsClock: 'never' } as const;
const TESTS = 4;

/** A meter of ASTM whose tests all ended in an error. */
function failedMeter() {
  const chance = chanceFrom(SEED);
  return meterWithPast(
    {
      id: 'PA00077',
      model: 'GM-10',
      capacity: 50,
      order: 'newest',
      stampResolutionMs: 1000,
      tellsRunNumbers: false,
      tellsLosses: false,
      defaultStamp: wall(Date.UTC(2000, 0, 1)),
      driftPpm: 0,
      clockOffMs: 0,
      clockLost: false,
      deletions: 0,
    },
    weeklyMoments(chance, TESTS, AT, DOCK.zone),
    DOCK.zone,
    AT,
    chance,
    createCourse(chance, { people: 1, controls: 0, errors: 1, tellsExpiry: false }),
  );
}

it(`keeps its id, and takes the code in place of the X that stood for it (SEED=${SEED})`, () => {
  const profile = loadProfiles('/nowhere').get('astm-generic-newest');
  const meter = failedMeter();
  const tell = (n: number, pullAfter?: number): ArrivedDownload[] => {
    const at = instant(AT + n * 3_600_000);
    const cable = { baud: 9600, cutsReads: false, ...(pullAfter === undefined ? {} : { pullAfter }) };
    return decodeCapture(visit(meter, DOCK, at, cable, chanceFrom(SEED)).capture, profile).map((download, ordinal) => ({
      id: downloadId(n, ordinal),
      moment: { at: download.at, captureNo: n, ordinal },
      arrival: n,
      download,
    }));
  };
  const whole = tell(2);
  const codeOf = new Map(foldMeter(1, whole).readings.map(({ record }) => [record.meterTimeText, record.errorCode]));
  expect([...codeOf.values()].filter((code) => code !== undefined && code !== 'X')).toHaveLength(TESTS);
  const { bytesFromMeter } = visit(meter, DOCK, AT, { baud: 9600, cutsReads: false }, chanceFrom(SEED));

  const placeholders: SettledReading[] = [];
  for (let pullAfter = 1; pullAfter < bytesFromMeter; pullAfter++) {
    const cut = tell(1, pullAfter);
    const before = foldMeter(1, cut).readings;
    const after = new Map(foldMeter(1, [...cut, ...whole]).readings.map((reading) => [reading.id, reading]));
    expect(after.size, `cut behind ${pullAfter} bytes`).toBe(TESTS);
    for (const { record } of after.values()) expect(record.errorCode).toBe(codeOf.get(record.meterTimeText));
    for (const reading of before) {
      expect(after.get(reading.id)?.record.meterTimeText, reading.id).toBe(reading.record.meterTimeText);
      if (reading.record.errorCode === 'X') placeholders.push(reading);
    }
  }
  // The case is met, and such a reading is never called settled.
  expect(placeholders.length).toBeGreaterThan(0);
  expect(new Set(placeholders.map(({ status }) => status))).toEqual(new Set(['provisional']));
});
