/** Meters: when their memory wraps, and which of them need looking after. */
import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { forecastOverwrite, type OverwriteForecast, waitBefore } from '../../../src/clinic/meters/overwrite.ts';
import { paceOf } from '../../../src/clinic/meters/pace.ts';
import { dyingBatteries, notSeenForLong, rankDrift, rankPowerLosses } from '../../../src/clinic/meters/rankings.ts';
import { METER_HABITS } from '../../../src/clinic/rules/meter-habits.ts';
import { instant } from '../../../src/core/instant.ts';
import { numbersFrom } from '../../support/numbers.ts';
import { runsOr, seedOr } from '../../support/seed.ts';

const DAY = 86_400_000;
const day = (n: number) => instant(Date.parse('2026-01-05T09:00:00Z') + Math.round(n * DAY));
const weekly = (n: number) => Array.from({ length: n }, (_, i) => day(7 * i));
const forecast = (f: OverwriteForecast) => {
  if (f.kind !== 'forecast') throw new Error(f.why);
  return f;
};

describe('the pace of a meter', () => {
  it('counts the tests of the window, or those after the first test where it lies within', () => {
    expect(paceOf(weekly(53), day(364), 90)).toEqual({ tests: 13, days: 90, clumping: 1 });
    expect(paceOf(weekly(4), day(28), 90)).toEqual({ tests: 3, days: 28, clumping: 1 });
    expect(paceOf(weekly(4), day(364), 90)).toEqual({ tests: 0, days: 90, clumping: 1 });
  });

  it('is not known from less than a day, nor from tests made later', () => {
    expect(paceOf([], day(10), 90)).toBeUndefined();
    expect(paceOf([day(9.5)], day(10), 90)).toBeUndefined();
    expect(paceOf([day(11)], day(10), 90)).toBeUndefined();
  });

  it('notices clumps: ninety tests in one week of twelve', () => {
    const clump = [day(-200), ...Array.from({ length: 90 }, (_, i) => day(50 + i / 20))];
    expect(paceOf(clump, day(84), 84)?.clumping).toBeGreaterThan(50);
  });
});

describe('the pace of a meter, told in any order', () => {
  it('is that of the tests up to the moment asked for', () => {
    const tests = [day(20), day(0), day(7), day(14), day(40)];
    expect(paceOf(tests, day(28), 90)).toEqual({ tests: 3, days: 28, clumping: 1 });
    expect(paceOf([day(0), day(0.5)], day(1), 90)).toEqual({ tests: 1, days: 1, clumping: 1 });
  });

  it('clumps by the day under six weeks and by the week from then on, and says nothing under six days', () => {
    // Six in one of six stretches: mean 1, variance (25 + 5 · 1) / 5.
    const inOneDay = Array.from({ length: 6 }, (_, i) => day(40.1 + i / 10));
    expect(paceOf([day(-9), ...inOneDay], day(42), 6)?.clumping).toBeCloseTo(6, 12);
    expect(paceOf([day(-9), ...inOneDay], day(42), 5)?.clumping).toBe(1);
    const inOneWeek = Array.from({ length: 6 }, (_, i) => day(35.5 + i));
    expect(paceOf([day(-9), ...inOneWeek], day(42), 42)?.clumping).toBeCloseTo(6, 12);
    expect(paceOf([day(-9), ...inOneWeek], day(42), 41)?.clumping).toBe(1);
  });
});

describe('the clumping of a meter in use all the time', () => {
  it('is that of its whole weeks', () => {
    // Two in each of five weeks and eight in the sixth: mean 3, variance (5 · 1 + 25) / 5.
    const tests = [2, 2, 2, 2, 2, 8].flatMap((n, week) =>
      Array.from({ length: n }, (_, i) => day(7 * week + 0.5 + i / 2)),
    );
    expect(paceOf([day(-9), ...tests], day(42), 42)?.clumping).toBeCloseTo(2, 12);
  });
});

describe('meters that need looking after', () => {
  const loss = (meter: string, earliest?: number, latest?: number) => ({
    meter,
    ...(earliest !== undefined && { earliest: day(earliest) }),
    ...(latest !== undefined && { latest: day(latest) }),
  });
  const within = (days: number) => ({ ...METER_HABITS, batteryDays: days });

  it('are named in order where they are alike', () => {
    const losses = ['C', 'B', 'A', 'B', 'A', 'D'].map((meter) => loss(meter));
    expect(rankPowerLosses(losses).map((m) => [m.meter, m.losses])).toEqual([
      ['A', 2],
      ['B', 2],
      ['C', 1],
      ['D', 1],
    ]);
    const clocks = ['C', 'A', 'B'].map((meter, i) => ({ meter, secondsPerDay: i === 1 ? -2 : 2 }));
    expect(rankDrift(clocks, METER_HABITS).map((m) => m.meter)).toEqual(['A', 'B', 'C']);
    const seen = ['C', 'A', 'B'].map((meter) => ({ meter, seen: day(0) }));
    const never = ['Z', 'X', 'Y'].map((meter) => ({ meter }));
    const late = notSeenForLong([...seen, ...never, { meter: 'L', seen: day(-9) }], day(100), METER_HABITS);
    expect(late.map((m) => m.meter)).toEqual(['X', 'Y', 'Z', 'L', 'A', 'B', 'C']);
    const sure = ['C', 'A', 'B'].flatMap((meter) => [loss(meter, 0, 1), loss(meter, 10, 11)]);
    const perhaps = ['F', 'D', 'E'].flatMap((meter) => [loss(meter, 0, 1), loss(meter, 90, 95)]);
    expect(dyingBatteries([...perhaps, ...sure], METER_HABITS).map((m) => [m.meter, m.isSure])).toEqual([
      ['A', true],
      ['B', true],
      ['C', true],
      ['D', false],
      ['E', false],
      ['F', false],
    ]);
  });

  it(`are ranked alike in whatever order they are told (SEED=${seedOr(517)})`, () => {
    const losses = fc.array(
      fc.record({ meter: fc.constantFrom('A', 'B', 'C'), from: fc.nat(400), width: fc.nat(40) }),
      { maxLength: 12 },
    );
    fc.assert(
      fc.property(losses, fc.nat(), (told, turn) => {
        // Of equal middles none comes first, so these are told once.
        const all = [...new Map(told.map((l) => [`${l.meter} ${2 * l.from + l.width}`, l])).values()].map((l) =>
          loss(l.meter, l.from, l.from + l.width),
        );
        const at = all.length === 0 ? 0 : turn % all.length;
        const turned = [...all.slice(at), ...all.slice(0, at)].toReversed();
        expect(dyingBatteries(turned, METER_HABITS)).toEqual(dyingBatteries(all, METER_HABITS));
        expect(rankPowerLosses(turned)).toEqual(rankPowerLosses(all));
        for (const { isSure, losses: near } of dyingBatteries(all, METER_HABITS)) {
          expect(near).toHaveLength(METER_HABITS.batteryLosses);
          const ends = near.map((l) => l.latest ?? 0);
          const begins = near.map((l) => l.earliest ?? 0);
          const most = (Math.max(...ends) - Math.min(...begins)) / DAY;
          expect(isSure).toBe(most <= METER_HABITS.batteryDays);
        }
      }),
      { seed: seedOr(517), numRuns: runsOr(300) },
    );
  });

  it('have their batteries judged by losses in order of time, the latest that lie together', () => {
    const [a, b, c] = [loss('M', 0, 1), loss('M', 50, 51), loss('M', 100, 101)];
    expect(dyingBatteries([c, a, b], within(60))).toEqual([{ meter: 'M', isSure: true, losses: [b, c] }]);
  });

  it('have losses of wide bounds put by their middle, and of one bound by that', () => {
    const [wide, early, late] = [loss('M', 0, 200), loss('M', 50, 60), loss('M', 110, 120)];
    expect(dyingBatteries([wide, late, early], within(60))).toEqual([
      { meter: 'M', isSure: false, losses: [wide, late] },
    ]);
    const [until, between, since] = [loss('M', undefined, 10), loss('M', 20, 30), loss('M', 40)];
    expect(dyingBatteries([since, between, until], within(60))).toEqual([
      { meter: 'M', isSure: false, losses: [between, since] },
    ]);
  });

  it('may have a dying battery where the losses may lie just so near, and surely not where they cannot', () => {
    const pair = [loss('M', 0, 10), loss('M', 100, 110)];
    expect(dyingBatteries(pair, within(90))).toMatchObject([{ isSure: false }]);
    expect(dyingBatteries(pair, within(89))).toEqual([]);
    expect(dyingBatteries(pair, within(110))).toMatchObject([{ isSure: true }]);
  });
});

describe('the forecast of an overwrite', () => {
  const home = { capacity: 200, read: { at: day(364), unread: 0 }, tests: weekly(53) };

  it('expects it when one test more than the memory holds has been made, and names a day before that', () => {
    const f = forecast(forecastOverwrite(home, day(364), METER_HABITS));
    expect(f).toMatchObject({ room: 200, isCapacityAssumed: false, isPast: false });
    expect(((f.expectedAt ?? 0) - day(364)) / DAY).toBeCloseTo((201 * 90) / 13, 6);
    expect(f.cautiousAt).toBeLessThan(f.expectedAt ?? 0);
    expect(f.cautiousAt).toBeGreaterThan(day(364 + 500));
    expect(f.sentence).toBe('This meter has room for more than a year.');
    const soon = forecast(forecastOverwrite(home, instant(f.cautiousAt - 1.5 * DAY), METER_HABITS));
    expect(soon.sentence).toBe(
      'Read this meter within 1 day: after that it may overwrite results that were never read.',
    );
  });

  it('names the day as long as it is not reached', () => {
    const { cautiousAt } = forecast(forecastOverwrite(home, day(364), METER_HABITS));
    const daysBefore = (days: number) =>
      forecast(forecastOverwrite(home, instant(cautiousAt - Math.round(days * DAY)), METER_HABITS));
    const read = (when: string) => `Read this meter ${when}: after that it may overwrite results that were never read.`;
    expect(daysBefore(366).sentence).toBe('This meter has room for more than a year.');
    expect(daysBefore(365.5).sentence).toBe(read('within 365 days'));
    expect(daysBefore(2).sentence).toBe(read('within 2 days'));
    expect(daysBefore(1 / DAY)).toMatchObject({ isPast: false, sentence: read('today') });
    expect(daysBefore(0)).toMatchObject({
      isPast: true,
      sentence: 'This meter may already have overwritten results that were never read.',
    });
  });

  it('takes a meter used in clumps for one that was watched for so much less', () => {
    // A third of 3 and of 1 + 1/2: beta of 1 and 1/2, reached at x with 1 − √(1 − x), which is a half at 3/4.
    expect(waitBefore({ tests: 1, days: 30, clumping: 3 }, 3, 0.5)).toBeCloseTo(90, 9);
  });

  it('has less room where results lay unread, and none where the memory was full', () => {
    expect(
      forecast(forecastOverwrite({ ...home, read: { at: day(364), unread: 150 } }, day(364), METER_HABITS)).room,
    ).toBe(50);
    const full = forecast(forecastOverwrite({ ...home, read: { at: day(364), unread: 250 } }, day(366), METER_HABITS));
    expect(full).toMatchObject({ room: 0, isPast: true });
    expect(full.sentence).toBe('This meter may already have overwritten results that were never read.');
  });

  it('marks a capacity that is only assumed, and gives none where that is not wanted', () => {
    const { capacity: _, ...untold } = home;
    const f = forecast(forecastOverwrite(untold, day(364), METER_HABITS));
    expect(f).toMatchObject({ room: 200, isCapacityAssumed: true });
    expect(f.sentence).toContain('200 is taken, as is usual');
    const { assumedCapacity: __, ...strict } = METER_HABITS;
    expect(forecastOverwrite(untold, day(364), strict)).toMatchObject({ kind: 'unknown', why: 'no-capacity' });
  });

  it('is unknown for a meter that was never read or of which no use is known', () => {
    expect(forecastOverwrite({ capacity: 200, tests: [] }, day(0), METER_HABITS)).toMatchObject({ why: 'never-read' });
    expect(forecastOverwrite({ ...home, tests: [] }, day(364), METER_HABITS)).toMatchObject({ why: 'no-pace' });
  });

  it('names a cautious day even for a meter that was not used of late', () => {
    const f = forecast(forecastOverwrite({ ...home, tests: weekly(4) }, day(364), METER_HABITS));
    expect(f.expectedAt).toBeUndefined();
    expect(Number.isFinite(f.cautiousAt)).toBe(true);
  });

  const seed = seedOr(517);
  it(`is later than the truth no more often than it says, whatever the pace (SEED=${seed})`, () => {
    const next = numbersFrom(seed);
    let late = 0;
    const rounds = 400;
    for (let round = 0; round < rounds; round++) {
      const perDay = 0.5 + next() * 10;
      const tests: number[] = [];
      for (let t = 0; tests.length < 3000; t += -Math.log(1 - next()) / perDay) tests.push(t);
      const seen = 30 + next() * 60;
      const known = tests.filter((t) => t <= seen).map(day);
      const truth = tests.filter((t) => t > seen)[200] ?? Number.NaN;
      const f = forecast(
        forecastOverwrite({ capacity: 200, read: { at: day(seen), unread: 0 }, tests: known }, day(seen), METER_HABITS),
      );
      if (f.cautiousAt > day(truth)) late += 1;
    }
    // 5 % may be late; four standard errors above that would be no chance.
    expect(late / rounds).toBeLessThan(0.05 + 4 * Math.sqrt((0.05 * 0.95) / rounds));
    expect(late).toBeGreaterThan(0);
  });
});

describe('looking after meters', () => {
  const loss = (meter: string, earliest?: number, latest?: number) => ({
    meter,
    ...(earliest !== undefined && { earliest: day(earliest) }),
    ...(latest !== undefined && { latest: day(latest) }),
  });

  it('ranks power losses', () => {
    expect(rankPowerLosses([loss('B', 1, 2), loss('C', 1, 2), loss('A', 1, 2), loss('B', 3, 4)])).toEqual([
      { meter: 'B', losses: 2 },
      { meter: 'A', losses: 1 },
      { meter: 'C', losses: 1 },
    ]);
  });

  it('knows batteries that keep dying for sure, and perhaps where the bounds are wide or open', () => {
    const losses = [
      loss('sure', 0, 10),
      loss('sure', 80, 90),
      loss('perhaps', 0, 10),
      loss('perhaps', 80, 120),
      loss('open', 0, 10),
      loss('open', 50),
      loss('no', 0, 10),
      loss('no', 101, 200),
      loss('once', 0, 1),
    ];
    expect(dyingBatteries(losses, METER_HABITS).map((b) => [b.meter, b.isSure])).toEqual([
      ['sure', true],
      ['open', false],
      ['perhaps', false],
    ]);
  });

  it('ranks drift either way and marks what no crystal does', () => {
    const clocks = [
      { meter: 'A', secondsPerDay: 1 },
      { meter: 'B', secondsPerDay: -12 },
      { meter: 'C', secondsPerDay: 10 },
    ];
    expect(rankDrift(clocks, METER_HABITS).map((c) => [c.meter, c.isBeyondCrystal])).toEqual([
      ['B', true],
      ['C', false],
      ['A', false],
    ]);
  });

  it('lists meters not seen for longer than planned, those never seen first', () => {
    const meters = [
      { meter: 'in time', seen: day(70), planDays: 30 },
      { meter: 'over', seen: day(60), planDays: 30 },
      { meter: 'usual', seen: day(60) },
      { meter: 'long', seen: day(0) },
      { meter: 'never' },
    ];
    const late = notSeenForLong(meters, day(100), METER_HABITS);
    expect(late.map((m) => [m.meter, m.daysOver])).toEqual([
      ['never', undefined],
      ['long', 38],
      ['over', 10],
    ]);
  });
});
