/**
 * The account of a placed test, and a clock at a glance, for the clock that gains a minute in 30 days of place.test.ts: 30 s
 * ahead at the first download (29.9 to 31.0 s), 90 s at the second (89.9 to 91.0 s).
 */
import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { accountOf } from '../../src/clock/account.ts';
import type { GapTimes } from '../../src/clock/gap-times.ts';
import type { ClockTest } from '../../src/clock/history.ts';
import { meterClock } from '../../src/clock/meter-clock.ts';
import type { PlaceResult } from '../../src/clock/place.ts';
import type { Instant } from '../../src/core/instant.ts';
import type { Incident, Placement } from '../../src/core/placement.ts';
import { zoneOf } from '../../src/core/zone.ts';
import { runsOr, seedOr } from '../support/seed.ts';
import { anchorAt, download, placed, reportOf, showing, stamped, utc } from './hand-made.ts';

const before = download('D1', [showing('2026-01-01T10:00:00', '2026-01-01T10:00:30')]);
const after = download('D2', [showing('2026-01-31T10:00:00', '2026-01-31T10:01:30')]);
const account = (items: Parameters<typeof placed>[0], id: string) => {
  const result = placed(items);
  const [gap] = result.gaps;
  if (!gap) throw new Error('no gap');
  return accountOf(gap, id, result.of(id));
};

describe('the account of a test', () => {
  it('tells the downloads around it, the sum, and the stories that were weighed', () => {
    // Half way the clock is 60.45 s ahead; the bounds and the estimate are those of place.test.ts.
    expect(account([before, stamped('t', '2026-01-16T10:01:00'), after], 't')).toEqual({
      zone: 'Etc/UTC',
      timeline: [
        "D1  2026-01-01 10:00:00  the meter's clock showed 2026-01-01 10:00:30: 30 s ahead of local time (between 29.9 s and 31 s)",
        't  the test, stamped 2026-01-16 10:01:00 by the meter',
        "D2  2026-01-31 10:00:00  the meter's clock showed 2026-01-31 10:01:30: 1 min 30 s ahead of local time (between 89.9 s and 91 s)",
      ],
      arithmetic: [
        'stamp 2026-01-16 10:01:00',
        'minus 1 min, by which the clock was ahead at that time (in a straight line from the download before to the one after)',
        '= 2026-01-16 10:00:00 (Etc/UTC)',
        'bounds: from 2026-01-16 09:58:19 to 2026-01-16 10:01:40, a span of 3 min 21 s; they cover every story below',
      ],
      stories: [{ words: 'nothing was changed', cost: 0, ways: 1, chosen: true }],
    });
  });

  it('adds where the clock is behind, to the second', () => {
    // 26 h 1 min 1 s behind at both downloads: offsets of -93 661.1 to -93 660 s, -93 660.55 s in the middle; the stamp's
    // second in its middle.
    const late = [
      download('D1', [showing('2026-01-03T12:01:01', '2026-01-02T10:00:00')]),
      stamped('t', '2026-01-02T22:00:00'),
      download('D2', [showing('2026-01-04T12:01:01', '2026-01-03T10:00:00')]),
    ];
    const { arithmetic, timeline } = account(late, 't');
    expect(arithmetic[1]).toMatch(
      /^plus 1 days 2 h 1 min 1 s, by which the clock was behind at that time \(in a straight/,
    );
    expect(arithmetic[2]).toBe('= 2026-01-04 00:01:01 (Etc/UTC)');
    expect(timeline[0]).toMatch(/behind local time \(between -93661.1 s and -93660 s\)$/);
  });

  it('says that a stamp of minutes means any second of them', () => {
    const { arithmetic } = account([before, stamped('t', '2026-01-16T10:01'), after], 't');
    expect(arithmetic[0]).toBe('stamp 2026-01-16 10:01 (the middle of the 1 min that the stamp can mean)');
    // 10:01:30 less 60.45 s.
    expect(arithmetic[2]).toBe('= 2026-01-16 10:00:29 (Etc/UTC)');
  });

  it('of a test without a stamp has no sum, and names what may have happened, the likeliest first', () => {
    const told = account([before, stamped('u', undefined), after], 'u');
    expect(told.timeline[1]).toBe('u  the test, without a stamp that can be read');
    expect(told.arithmetic).toHaveLength(1);
    expect(told.stories.map(({ chosen }) => chosen)).toEqual(told.stories.map((_, i) => i === 0));
    expect(told.stories.map(({ cost }) => cost)).toEqual(
      told.stories.map(({ cost }) => cost).toSorted((a, b) => a - b),
    );
  });
});

describe('the account of a report', () => {
  const D1 = anchorAt('D1', '2026-01-01T10:00:00', '2026-01-01T10:00:30');
  const test = (id: string, stamp?: string): ClockTest => ({
    ...stamped(id, stamp),
    toldBy: utc('2026-02-01T00:00:00'),
  });
  const placement = (more: Partial<Placement> = {}): Placement => ({
    takenAt: utc('2026-01-16T10:00:00'),
    basis: 'anchored',
    reason: '',
    flags: [],
    ...more,
  });
  const t = test('t', '2026-01-16T10:01:00');
  const of = (given: Parameters<typeof reportOf>, p = placement(), id = 't') => accountOf(reportOf(...given), id, p);

  it("is in the local time of the dock, whose clock it compares with the meter's", () => {
    // Lisbon in summer is an hour ahead of UTC: a clock that shows 10:59:00 at 10:00 UTC is 60 s behind (59.45 s).
    const lisbon = zoneOf('Europe/Lisbon');
    const first = anchorAt('D1', '2026-07-01T10:00:00', '2026-07-01T10:59:00', { zone: 'Europe/Lisbon' });
    const tests = [test('t', '2026-07-16T10:59:00')];
    const told = of([{ first, tests, zone: lisbon }], placement({ takenAt: utc('2026-07-16T10:00:00') }));
    expect(told).toMatchObject({
      zone: 'Europe/Lisbon',
      timeline: [
        "D1  2026-07-01 11:00:00  the meter's clock showed 2026-07-01 10:59:00: 1 min behind local time (between -60.1 s and -59 s)",
        't  the test, stamped 2026-07-16 10:59:00 by the meter',
      ],
    });
    expect(told.arithmetic.slice(1, 3)).toEqual([
      "plus 1 min, by which the clock was behind at that time (reckoned from one download with the meter's usual drift)",
      '= 2026-07-16 11:00:00 (Europe/Lisbon)',
    ]);
  });

  it('says of a clock that is right to the second that it is not behind', () => {
    // Asked for 1 s, from 1 s before to 1 s after; the stamp's second has its middle at the estimate.
    const first = anchorAt('D1', '2026-01-01T10:00:00', '2026-01-01T10:00:00', { tookMs: 1000 });
    const told = of([{ first, tests: [t] }], placement({ takenAt: (utc('2026-01-16T10:01:00') + 500) as never }));
    expect(told.timeline[0]).toMatch(/: 0 s ahead of local time \(between -1 s and 1 s\)$/);
    expect(told.arithmetic[1]).toMatch(/^minus 0 s, by which the clock was ahead /);
  });

  it('takes the offset that the neighbours leave of an anchor, else that of the anchor itself', () => {
    const ends = { first: { lo: 30_000, hi: 30_200 }, usualDrift: 0 };
    expect(of([{ first: D1, tests: [t] }, {}, ends]).timeline[0]).toContain('(between 30 s and 30.2 s)');
    expect(of([{ first: D1, tests: [t] }, {}, { usualDrift: 0 }]).timeline[0]).toContain('(between 29.9 s and 31 s)');
  });

  it('is that of the test that was asked for, between those downloads that there are', () => {
    const tests = [test('s', '2026-01-15T10:01:00'), t, test('u')];
    expect(of([{ tests }]).timeline).toEqual(['t  the test, stamped 2026-01-16 10:01:00 by the meter']);
    expect(of([{ tests }], placement(), 'u').timeline).toEqual(['u  the test, without a stamp that can be read']);
    expect(of([{ tests }], placement(), 'x').timeline).toEqual(['x  the test, without a stamp that can be read']);
    expect(of([{ tests, last: D1 }]).timeline[1]).toMatch(/^D1 {2}2026-01-01 10:00:00/);
  });

  it('says on what the estimate rests', () => {
    const words = (basis: Placement['basis']) => of([{ tests: [t] }], placement({ basis })).arithmetic[1];
    expect(words('interpolated')).toMatch(/\(in a straight line from the download before to the one after\)$/);
    expect(words('anchored')).toMatch(/\(reckoned from one download with the meter's usual drift\)$/);
    expect(words('bounded')).toMatch(/\(no download saw this stretch of the clock: read as local time where/);
    expect(words('displayed')).toMatch(/\(taken as it stands\)$/);
  });

  it('has no sum without an estimate, and says which bounds are open', () => {
    const { takenAt: _, ...unknown } = placement();
    const [at, later] = [utc('2026-01-16T10:00:00'), utc('2026-01-16T12:00:00')];
    const bounds = (p: Partial<Placement>) => of([{ tests: [t] }], { ...unknown, ...p }).arithmetic;
    expect(bounds({})).toEqual(['bounds: from open to open; they cover every story below']);
    expect(bounds({ latest: later })).toEqual([
      'bounds: from open to 2026-01-16 12:00:00; they cover every story below',
    ]);
    expect(bounds({ earliest: at })).toEqual([
      'bounds: from 2026-01-16 10:00:00 to open; they cover every story below',
    ]);
    expect(bounds({ earliest: at, latest: later })).toEqual([
      'bounds: from 2026-01-16 10:00:00 to 2026-01-16 12:00:00, a span of 2 h; they cover every story below',
    ]);
  });

  const seed = seedOr(20260301);
  it(`has a sum that can be checked by hand, to the second (SEED=${seed})`, () => {
    const ahead = fc.integer({ min: -400 * 86_400_000, max: 400 * 86_400_000 });
    fc.assert(
      fc.property(ahead, (offset) => {
        const takenAt = (utc('2026-01-16T10:01:00') + 500 - offset) as Instant;
        const { arithmetic } = of([{ tests: [t] }], placement({ takenAt }));
        const words = /^(plus|minus) (.*), by which/.exec(arithmetic[1] ?? '');
        const units: Record<string, number> = { days: 86_400, h: 3600, min: 60, s: 1 };
        const seconds = [...(words?.[2] ?? '').matchAll(/(\d+) (\w+)/g)].reduce(
          (sum, [, n, unit]) => sum + Number(n) * (units[unit ?? ''] ?? Number.NaN),
          0,
        );
        const sum = utc('2026-01-16T10:01:00') + (words?.[1] === 'plus' ? seconds : -seconds) * 1000;
        const told = /^= (.*) \(Etc\/UTC\)$/.exec(arithmetic[2] ?? '')?.[1]?.replace(' ', 'T') ?? '';
        expect(Math.abs(sum - utc(told))).toBeLessThanOrEqual(1000);
      }),
      { seed, numRuns: runsOr(100) },
    );
  });

  it('names the stories that cost at most 3 more than the cheapest, and which one was chosen', () => {
    const told = (...stories: GapTimes['stories']) => of([{ tests: [t] }, { stories }]).stories;
    expect(
      told(
        { changes: ['loss', 'set-right'], cost: 6, ways: 2 },
        { changes: ['hour'], cost: 9, ways: 1 },
        { changes: ['half-day'], cost: 9.1, ways: 1 },
      ),
    ).toEqual([
      { words: 'power was lost, then the clock was set right', cost: 6, ways: 2, chosen: true },
      { words: 'the clock was set an hour off', cost: 9, ways: 1, chosen: false },
    ]);
    const kinds = ['half-day', 'day-month', 'year', 'unexplained'] as const;
    expect(told(...kinds.map((kind) => ({ changes: [kind], cost: 6, ways: 1 }))).map(({ words }) => words)).toEqual([
      'the clock was set twelve hours off',
      'the clock was set with day and month exchanged',
      'the clock was set with a wrong year',
      'the clock was changed in a way that fits no usual cause',
    ]);
    expect(told({ changes: [], cost: 0, ways: 1 })).toMatchObject([{ words: 'nothing was changed', chosen: true }]);
    expect(told()).toEqual([]);
  });
});

describe('a clock at a glance', () => {
  it('is how far it was off when it was last seen, and what it gains in a month', () => {
    const clock = meterClock(placed([before, stamped('t', '2026-01-16T10:01:00'), after]));
    expect(clock).toMatchObject({ offS: 90.5, powerLosses: 0, clockChanges: 0 });
    // The middle of question and answer.
    expect(clock.seenAt).toBe(utc('2026-01-31T10:00:00') + 50);
    // 60 s in 30 days are 23.148 ppm.
    expect(clock.drift?.ppm).toBeCloseTo(23.148, 2);
    expect(clock.drift?.secondsAMonth).toBeCloseTo(60, 1);
    expect(clock).not.toHaveProperty('lastPowerLoss');
  });

  it('is not known where no download saw it', () => {
    expect(meterClock(placed([stamped('t', '2026-01-16T10:01:00')]))).toEqual({ powerLosses: 0, clockChanges: 0 });
  });

  const lost: Incident = { kind: 'power-loss', likelyCause: 'the first', explanation: '' };
  const changed: Incident = { kind: 'clock-changed', likelyCause: '', explanation: '' };
  const result = (gaps: PlaceResult['gaps'], more: Partial<PlaceResult> = {}): PlaceResult => ({
    tests: [],
    incidents: [],
    drift: { rate: 0, sd: 2e-5, learned: false },
    gaps,
    checkpoints: [],
    ...more,
  });

  it('counts power losses and changes apart, and names the last loss', () => {
    const incidents: Incident[] = [
      lost,
      changed,
      changed,
      lost,
      { ...changed, kind: 'fast-drift' },
      { ...lost, likelyCause: 'the last' },
      changed,
    ];
    expect(meterClock(result([], { incidents }))).toEqual({
      powerLosses: 3,
      clockChanges: 3,
      lastPowerLoss: { ...lost, likelyCause: 'the last' },
    });
  });

  it('compares with local time, at the end of the last gap or at its beginning', () => {
    // An hour ahead of UTC in summer: what shows 10:59:00 is 59.45 s behind, to a tenth.
    const lisbon = { zone: 'Europe/Lisbon' };
    const D1 = anchorAt('D1', '2026-07-01T10:00:00', '2026-07-01T11:00:00', lisbon);
    const D2 = anchorAt('D2', '2026-07-02T10:00:00', '2026-07-02T10:59:00', lisbon);
    const D3 = anchorAt('D3', '2026-07-03T10:00:00', '2026-07-03T10:58:00', lisbon);
    const one = reportOf({ first: D1, last: D2 });
    expect(meterClock(result([one]))).toEqual({
      offS: -59.5,
      seenAt: utc('2026-07-02T10:00:00') + 50,
      powerLosses: 0,
      clockChanges: 0,
    });
    expect(meterClock(result([one, reportOf({ first: D2, last: D3 })])).offS).toBe(-119.5);
    expect(meterClock(result([one, reportOf({ first: D3 })]))).toMatchObject({
      offS: -119.5,
      seenAt: utc('2026-07-03T10:00:00') + 50,
    });
    // What the neighbours leave of the offset counts.
    const ends = { last: { lo: 3_530_000, hi: 3_531_000 }, usualDrift: 0 };
    expect(meterClock(result([reportOf({ last: D2 }, {}, ends)])).offS).toBe(-69.5);
    expect(meterClock(result([reportOf({})]))).toEqual({ powerLosses: 0, clockChanges: 0 });
    expect(meterClock(result([reportOf({ last: D2 }, {}, { usualDrift: 0 })]))).not.toHaveProperty('offS');
  });

  it('tells a drift that was learned in ppm, with its uncertainty, and in seconds in 30 days', () => {
    const { drift } = meterClock(result([], { drift: { rate: 25e-6, sd: 2e-6, learned: true } }));
    expect(drift?.ppm).toBeCloseTo(25, 9);
    expect(drift?.sdPpm).toBeCloseTo(2, 9);
    expect(drift?.secondsAMonth).toBeCloseTo(64.8, 9);
    expect(meterClock(result([], { drift: { rate: 25e-6, sd: 2e-6, learned: false } }))).not.toHaveProperty('drift');
  });
});
