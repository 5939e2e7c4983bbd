/** Meters with a past: those of the command and the two of Port Alder. */
import { describe, expect, it } from 'vitest';
import { instant } from '../../src/core/instant.ts';
import { wall } from '../../src/core/meter-time.ts';
import { zoneOf } from '../../src/core/zone.ts';
import { chanceFrom } from '../../src/virtual/chance.ts';
import { createCourse } from '../../src/virtual/course.ts';
import { shownClock } from '../../src/virtual/meter.ts';
import { meterWithPast, type Past, weeklyMoments } from '../../src/virtual/past.ts';
import { portAlderMeters } from '../../src/virtual/port-alder.ts';
import { realNow, TEST_NOW } from '../support/meters.ts';
import { tcpHost } from '../support/tcp-host.ts';
import { readTlp, tlpLine } from '../support/tiny-tlp.ts';

const ZONE = zoneOf('Atlantic/Azores');
const DAY_MS = 86_400_000;
const PAST: Past = {
  id: 'SN1',
  model: 'GM-10',
  capacity: 20,
  order: 'newest',
  stampResolutionMs: 1000,
  tellsRunNumbers: true,
  tellsLosses: true,
  defaultStamp: wall(Date.UTC(2010, 0, 1)),
  driftPpm: 0,
  clockOffMs: 0,
  clockLost: false,
  deletions: 0,
};

const withPast = (tests: number, change: Partial<Past> = {}) => {
  const chance = chanceFrom(3);
  const moments = weeklyMoments(chance, tests, TEST_NOW, ZONE);
  const course = createCourse(chance, { people: 1, controls: 0, errors: 0, tellsExpiry: false });
  return { moments, meter: meterWithPast({ ...PAST, ...change }, moments, ZONE, TEST_NOW, chance, course) };
};

describe('a meter with a past', () => {
  it('has tests in order, before now, at daytime of its own zone', () => {
    const { moments } = withPast(100);
    expect(moments).toHaveLength(100);
    expect([...moments].sort((a, b) => a - b)).toEqual(moments);
    expect(moments.at(-1)).toBeLessThan(TEST_NOW);
    const hours = moments.map((at) => new Date(ZONE.wallAt(at)).getUTCHours());
    expect(Math.max(...hours) - Math.min(...hours)).toBeLessThan(7);
  });

  it('stamps at the present offset of its zone, and keeps only what its memory holds', () => {
    const { moments, meter } = withPast(30);
    expect(meter.memory.held).toHaveLength(20);
    const stamps = moments.slice(-20).map((at) => new Date(at + ZONE.offsetAt(TEST_NOW)).toISOString().slice(0, 19));
    expect(meter.memory.held.map(({ test }) => test.stamp)).toEqual(stamps);
  });

  it('runs from its default date where its clock was lost, with every test since', () => {
    const { moments, meter } = withPast(18, { clockLost: true });
    const stamps = meter.memory.held.map(({ test }) => test.stamp);
    expect(stamps.slice(0, 12).every((stamp) => stamp > '2025')).toBe(true);
    expect(stamps.slice(12).every((stamp) => stamp.startsWith('2010-0'))).toBe(true);
    const sinceLoss = TEST_NOW - ((moments[12] ?? 0) - 900_000);
    expect(Date.parse(`${shownClock(meter, TEST_NOW)}Z`)).toBe(
      Math.floor((Date.UTC(2010, 0, 1) + sinceLoss) / 1000) * 1000,
    );
    expect(meter.clock.losses).toBe(1);
  });

  it('is off by what it was set wrong, gains by its drift, and has deletions', () => {
    const { moments, meter } = withPast(10, { clockOffMs: 90_000, driftPpm: 100, deletions: 3 });
    const ran = TEST_NOW - ((moments[0] ?? 0) - DAY_MS);
    const shown = Date.parse(`${shownClock(meter, TEST_NOW)}Z`) - ZONE.wallAt(TEST_NOW);
    expect(Math.abs(shown - 90_000 - ran * 100e-6)).toBeLessThanOrEqual(1000);
    expect(meter.memory.held).toHaveLength(7);
  });

  it('is possible without a single test', () => {
    expect(withPast(0, { clockLost: true }).meter.memory.held).toHaveLength(0);
    expect(shownClock(withPast(0, { clockLost: true }).meter, TEST_NOW)).toBe('2010-01-02T00:00:00');
  });
});

describe('the meters of Port Alder', () => {
  it('are the same for the same seed and time', () => {
    const both = (): unknown => portAlderMeters(7, TEST_NOW, ZONE).map(({ meter }) => meter);
    expect(both()).toEqual(both());
  });

  it('are a home meter that lost its clock weeks ago and a clinic meter with many people', () => {
    const [home, clinic] = portAlderMeters(7, TEST_NOW, ZONE);
    expect(shownClock(home.meter, TEST_NOW)).toMatch(/^2000-0/);
    const stamps = home.meter.memory.held.map(({ test }) => test.stamp);
    expect(stamps.every((stamp) => /^\d{4}-\d\d-\d\dT\d\d:\d\d$/.test(stamp))).toBe(true);
    expect(stamps.some((stamp) => stamp.startsWith('2000-'))).toBe(true);
    expect(stamps.some((stamp) => stamp.startsWith('2025-'))).toBe(true);
    const people = new Set(clinic.meter.memory.held.map(({ test }) => test.patientId));
    expect(people.size).toBeGreaterThan(15);
    expect(clinic.meter.memory.held.some(({ test }) => test.kind === 'control')).toBe(true);
    const last = clinic.meter.memory.held.at(-1)?.test.stamp ?? '';
    expect(Date.parse(`${last}Z`)).toBeLessThan(ZONE.wallAt(instant(TEST_NOW)));
  });

  it('answer on TCP', async () => {
    const [home, clinic] = portAlderMeters(7, TEST_NOW, ZONE);
    const [first, second] = await Promise.all([home.serve(realNow), clinic.serve(realNow)]);
    const hosts = await Promise.all([tcpHost(first.where), tcpHost(second.where)]);
    hosts[0].send(tlpLine('HELLO v=1'));
    const heard = await hosts[0].until((bytes) => readTlp(bytes).length > 0);
    expect(readTlp(heard)[0]?.keys['id']).toBe('PA-H017');
    expect([...(await hosts[1].until((bytes) => bytes.length > 0))]).toEqual([5]);
    for (const host of hosts) host.socket.destroy();
    await Promise.all([first.close(), second.close()]);
  });
});
