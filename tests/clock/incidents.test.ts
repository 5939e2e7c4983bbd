/** What happened to a meter's clock, told with its likely cause. The clock is right at the first download, in UTC. */
import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { CHANGE_KINDS } from '../../src/clock/costs.ts';
import type { Change } from '../../src/clock/gap-times.ts';
import { incidentsOf } from '../../src/clock/incidents.ts';
import { zoneOf } from '../../src/core/zone.ts';
import { runsOr, seedOr } from '../support/seed.ts';
import { download, placed, showing, stamped, utc } from './hand-made.ts';

const HOUR_S = 3600;
const DAY_S = 24 * HOUR_S;

/** One change somewhere between two downloads on 5 March 2026, after which the clock shows this at 18:00. */
const changedTo = (clockAtSix: string) =>
  placed([
    download('D1', [showing('2026-03-05T08:00:00', '2026-03-05T08:00:00')]),
    stamped('t', '2026-03-05T10:00:00'),
    download('D2', [showing('2026-03-05T18:00:00', clockAtSix)]),
  ]);

describe('a clock that was set wrongly by hand', () => {
  it.each([
    ['an hour ahead', '2026-03-05T19:00:00', HOUR_S, 'set an hour off: summer time forgotten, or taken the wrong way'],
    [
      'an hour behind',
      '2026-03-05T17:00:00',
      -HOUR_S,
      'set an hour off: summer time forgotten, or taken the wrong way',
    ],
    ['twelve hours ahead', '2026-03-06T06:00:00', 12 * HOUR_S, 'set twelve hours off: morning and afternoon exchanged'],
    [
      'twelve hours behind',
      '2026-03-05T06:00:00',
      -12 * HOUR_S,
      'set twelve hours off: morning and afternoon exchanged',
    ],
    // 5 March as 3 May: 26 days of March, 30 of April and 3 of May later.
    ['with day and month exchanged', '2026-05-03T18:00:00', 59 * DAY_S, 'set with day and month exchanged'],
    ['with the year before', '2025-03-05T18:00:00', -365 * DAY_S, 'set with a wrong year'],
    // 29 February 2028 lies in between.
    ['with a year to come', '2029-03-05T18:00:00', (3 * 365 + 1) * DAY_S, 'set with a wrong year'],
    ['by no usual slip', '2026-03-05T21:17:00', 3 * HOUR_S + 17 * 60, 'no usual cause fits the size'],
  ])('%s is told with its size and cause', (_, clock, sizeS, likelyCause) => {
    const { incidents } = changedTo(clock);
    expect(incidents).toHaveLength(1);
    expect(incidents[0]).toMatchObject({ kind: 'clock-changed', likelyCause });
    // Both downloads know the offset to a second, and 10 hours of drift are 3.6 s.
    expect(Math.abs((incidents[0]?.sizeS ?? Number.NaN) - sizeS)).toBeLessThanOrEqual(4);
    expect(incidents[0]?.earliest).toBeGreaterThanOrEqual(utc('2026-03-05T08:00:00'));
    expect(incidents[0]?.latest).toBeLessThanOrEqual(utc('2026-03-05T18:00:01'));
  });

  it('says when, by how much and why in one sentence', () => {
    expect(changedTo('2026-03-05T17:00:00').incidents[0]?.explanation).toBe(
      "The meter's clock was changed by 1 h backwards between 2026-03-05 08:00 and 2026-03-05 18:00 (Etc/UTC): set an hour off: summer time forgotten, or taken the wrong way.",
    );
  });
});

describe('a clock that was put right', () => {
  const putRight = (clockBefore: string) =>
    placed([
      download('D1', [showing('2026-03-05T08:00:00', clockBefore)]),
      download('D2', [showing('2026-03-05T18:00:00', '2026-03-05T18:00:00')]),
    ]).incidents;

  it.each([
    ['2026-03-05T09:00:00', -HOUR_S, 'put right after being an hour off: summer time'],
    ['2026-03-05T20:00:00', -12 * HOUR_S, 'put right after being twelve hours off'],
    ['2026-03-05T07:55:00', 300, 'set by eye'],
    ['2026-05-03T08:00:00', -59 * DAY_S, 'date put right'],
    ['2026-03-05T10:20:00', -(2 * HOUR_S + 20 * 60), 'set by hand'],
  ])('from %s at 08:00 is told with what it had been', (clock, sizeS, likelyCause) => {
    const incidents = putRight(clock);
    expect(incidents).toMatchObject([{ kind: 'clock-changed', likelyCause }]);
    expect(Math.abs((incidents[0]?.sizeS ?? Number.NaN) - sizeS)).toBeLessThanOrEqual(4);
  });
});

describe('a clock that ran from its default date and was then set wrongly', () => {
  // At 08:00 it showed 4 hours of 2000: 26 years, seven of them leap years, 63 days and 4 hours behind.
  const JUMP_S = (26 * 365 + 7 + 31 + 28 + 4) * DAY_S + 4 * HOUR_S;
  it.each([
    ['19:00', HOUR_S, 'date put right, but set an hour off: summer time forgotten, or taken the wrong way'],
    ['06:00', -12 * HOUR_S, 'date put right, but set twelve hours off: morning and afternoon exchanged'],
  ])('is told as both where it shows %s at 18:00', (clock, slipS, likelyCause) => {
    const { incidents } = placed([
      download('D1', [showing('2026-03-05T08:00:00', '2000-01-01T04:00:00')]),
      download('D2', [showing('2026-03-05T18:00:00', `2026-03-05T${clock}:00`)]),
    ]);
    expect(incidents).toMatchObject([{ kind: 'clock-changed', likelyCause }]);
    expect(Math.abs((incidents[0]?.sizeS ?? Number.NaN) - (JUMP_S + slipS))).toBeLessThanOrEqual(4);
  });
});

describe('a power loss', () => {
  const loss = (clockAtSix: string) => changedTo(clockAtSix).incidents;

  it('is told with its time, and with what must be entered again', () => {
    // The default date plus 4 hours at 18:00: power was lost at 14:00 (4 hours of drift: 1.4 s).
    const incidents = loss('2010-01-01T04:00:00');
    expect(incidents).toMatchObject([
      {
        kind: 'power-loss',
        likelyCause: 'power lost: the clock started again at its default date',
        explanation:
          'The meter lost power between 2026-03-05 13:59 and 2026-03-05 14:00 (Etc/UTC). Date, time and the target range in the meter must be entered again.',
      },
    ]);
    expect(Math.abs((incidents[0]?.earliest ?? 0) - utc('2026-03-05T14:00:00'))).toBeLessThan(3000);
    expect(Math.abs((incidents[0]?.latest ?? 0) - utc('2026-03-05T14:00:00'))).toBeLessThan(3000);
  });

  it('is not what a clock shows that has run for longer than the time between two downloads', () => {
    // 11 hours after the default date, but only 10 hours have passed.
    expect(loss('2010-01-01T11:00:00').map((i) => i.kind)).toEqual(['clock-changed']);
  });
});

describe('a clock that runs off faster than its kind should', () => {
  // 300 ppm: 777.6 s in 30 days, where the profile allows 100 ppm.
  const month = (k: number) => new Date(Date.UTC(2026, 0, 1, 10) + k * 30 * 86_400_000).toISOString().slice(0, 19);
  const ahead = (k: number, s: number) => new Date(Date.parse(`${month(k)}Z`) + s * 1000).toISOString().slice(0, 19);
  const at = (k: number, s: number) => download(`D${k}`, [showing(month(k), ahead(k, s))]);

  it('is told as drift in every gap, and not as somebody who sets it again and again', () => {
    const { incidents } = placed([at(0, 0), at(1, 778), at(2, 1555), at(3, 2333)]);
    expect(incidents.map((i) => i.kind)).toEqual(['fast-drift', 'fast-drift', 'fast-drift']);
    expect(incidents[0]).toMatchObject({
      likelyCause: 'the clock runs off faster than its kind should',
      explanation:
        "Between 2026-01-01 10:00 and 2026-01-31 10:00 the meter's clock gained 778 seconds a month (300 ppm), more than the 100 ppm of its profile. Have the meter checked.",
    });
    expect(incidents[0]?.earliest).toBe(utc('2026-01-01T10:00:00'));
    expect(incidents[0]?.latest).toBe(utc('2026-01-31T10:00:00') + 100);
  });

  it('is told as losing where it loses', () => {
    const { incidents } = placed([at(0, 0), at(1, -778), at(2, -1555)]);
    expect(incidents.map((i) => i.kind)).toEqual(['fast-drift', 'fast-drift']);
    expect(incidents[1]?.explanation).toContain('lost 777 seconds a month');
  });

  it('is told as set by hand where one gap alone is off, or the next one the other way', () => {
    expect(placed([at(0, 0), at(1, 778), at(2, 790)]).incidents.map((i) => i.kind)).toEqual(['clock-changed']);
    expect(placed([at(0, 0), at(1, 778), at(2, 0)]).incidents.map((i) => i.kind)).toEqual([
      'clock-changed',
      'clock-changed',
    ]);
  });

  it('is no incident within the limit', () => {
    // 99 ppm: 256.6 s in 30 days.
    expect(placed([at(0, 0), at(1, 257), at(2, 513)]).incidents).toEqual([]);
  });
});

describe('what one change amounts to', () => {
  const MINUTE = 60_000;
  const HOUR = 60 * MINUTE;
  const DAY = 24 * HOUR;
  const when = { lo: utc('2026-03-05T10:00:00'), hi: utc('2026-03-05T12:00:00') };
  const UTC = zoneOf('Etc/UTC');
  const change = (more: Partial<Change>): Change => ({ kind: 'set-right', when, lossProven: false, ...more });
  const cause = (more: Partial<Change>, zone = UTC) => incidentsOf([change(more)], zone).map((i) => i.likelyCause);

  it('is told with the cause that its size makes likely, within 10 minutes', () => {
    const sizes = (...all: number[]) => all.map((size) => cause({ size })[0]);
    const [eye, hand] = ['set by eye', 'set by hand'];
    expect(sizes(10 * MINUTE, -10 * MINUTE, 10 * MINUTE + 1, -10 * MINUTE - 1)).toStrictEqual([eye, eye, hand, hand]);
    const hour = 'put right after being an hour off: summer time';
    expect(sizes(50 * MINUTE, -70 * MINUTE, 50 * MINUTE - 1, 70 * MINUTE + 1)).toStrictEqual([hour, hour, hand, hand]);
    const half = 'put right after being twelve hours off';
    expect(sizes(12 * HOUR, -12 * HOUR + 10 * MINUTE, 12 * HOUR + 10 * MINUTE + 1)).toStrictEqual([half, half, hand]);
    const date = 'date put right';
    expect(sizes(27 * DAY, -27 * DAY, 27 * DAY - 1)).toStrictEqual([date, date, hand]);
    expect(cause({})).toStrictEqual([hand]);
  });

  it('is a change for summer time in the week after it began, or around it', () => {
    // Lisbon: 29 March 2026, 01:00 UTC.
    const lisbon = zoneOf('Europe/Lisbon');
    const began = utc('2026-03-29T01:00:00');
    const at = (lo: number, hi: number, size: number) => cause({ when: { lo, hi }, size }, lisbon)[0];
    const told = 'set for summer or winter time';
    expect(at(began - DAY, began, HOUR + 10 * MINUTE)).toBe(told);
    expect(at(began - DAY, began, HOUR - 10 * MINUTE)).toBe(told);
    expect(at(began - DAY, began - 1, HOUR)).toBe('put right after being an hour off: summer time');
    expect(at(began - DAY, began, HOUR + 10 * MINUTE + 1)).toBe('set by hand');
    expect(at(began - DAY, began, -HOUR)).toBe('put right after being an hour off: summer time'); // the wrong way
    expect(at(began + 7 * DAY - 1, began + 8 * DAY, HOUR)).toBe(told);
    expect(at(began + 7 * DAY, began + 8 * DAY, HOUR)).toBe('put right after being an hour off: summer time');
    // Nothing changed in summer: a small correction is not one for summer time.
    expect(at(began + 30 * DAY, began + 31 * DAY, MINUTE)).toBe('set by eye');
    const ended = utc('2026-10-25T01:00:00');
    expect(at(ended - DAY, ended, -HOUR)).toBe(told);
  });

  it('has put the date right, too, where it jumped by 27 days or more', () => {
    const hour = 'set an hour off: summer time forgotten, or taken the wrong way';
    const half = 'set twelve hours off: morning and afternoon exchanged';
    const jumps = [27 * DAY, -27 * DAY, 27 * DAY - 1, undefined];
    const of = (kind: Change['kind']) =>
      jumps.map((size) => cause({ kind, ...(size === undefined ? {} : { size }) })[0]);
    expect(of('hour')).toStrictEqual([`date put right, but ${hour}`, `date put right, but ${hour}`, hour, hour]);
    expect(of('half-day')).toStrictEqual([`date put right, but ${half}`, `date put right, but ${half}`, half, half]);
  });

  it('is told with its span, in whole milliseconds that cut off nothing, and its size in seconds', () => {
    const [told] = incidentsOf([change({ when: { lo: when.lo + 0.5, hi: when.hi + 0.5 }, size: -61_499 })], UTC);
    expect(told).toStrictEqual({
      kind: 'clock-changed',
      earliest: when.lo,
      latest: when.hi + 1,
      sizeS: -61,
      likelyCause: 'set by eye',
      explanation:
        "The meter's clock was changed by 1 min 1 s backwards between 2026-03-05 10:00 and 2026-03-05 12:00 (Etc/UTC): set by eye.",
    });
    const words = (size: number | undefined) =>
      incidentsOf([change(size === undefined ? {} : { size })], UTC)[0]?.explanation.slice(0, 50);
    expect(words(0)).toBe("The meter's clock was changed by 0 s forwards betw");
    expect(words(120_000)).toBe("The meter's clock was changed by 2 min forwards be");
    expect(words(undefined)).toBe("The meter's clock was changed between 2026-03-05 1");
    expect(incidentsOf([change({})], UTC)[0]).not.toHaveProperty('sizeS');
  });

  const seed = seedOr(20260301);
  it(`is told within a millisecond of when it can have been, as a loss, a change or both (SEED=${seed})`, () => {
    const changes = fc.record({
      kind: fc.constantFrom(...CHANGE_KINDS),
      when: fc
        .tuple(fc.double({ min: 0, max: 2e12, noNaN: true }), fc.double({ min: 0, max: 1e9, noNaN: true }))
        .map(([lo, length]) => ({ lo, hi: lo + length })),
      size: fc.integer({ min: -1e12, max: 1e12 }),
      lossProven: fc.boolean(),
    });
    fc.assert(
      fc.property(changes, (c) => {
        const told = incidentsOf([c], UTC);
        const isLoss = c.kind === 'loss';
        expect(told.map(({ kind }) => kind)).toEqual([
          ...(isLoss || c.lossProven ? ['power-loss'] : []),
          ...(isLoss ? [] : ['clock-changed']),
        ]);
        for (const { earliest = Number.NaN, latest = Number.NaN } of told) {
          expect(earliest).toBeLessThanOrEqual(c.when.lo);
          expect(earliest).toBeGreaterThanOrEqual(c.when.lo - 1);
          expect(latest).toBeGreaterThanOrEqual(c.when.hi);
          expect(latest).toBeLessThanOrEqual(c.when.hi + 1);
        }
      }),
      { seed, numRuns: runsOr(100) },
    );
  });

  it('is a power loss alone where the clock ran from its default date, and both where the count proves one', () => {
    const loss = change({ kind: 'loss', size: -3_600_000 });
    const told = {
      kind: 'power-loss',
      earliest: when.lo,
      latest: when.hi,
      likelyCause: 'power lost: the clock started again at its default date',
      explanation:
        'The meter lost power between 2026-03-05 10:00 and 2026-03-05 12:00 (Etc/UTC). Date, time and the target range in the meter must be entered again.',
    };
    expect(incidentsOf([loss], UTC)).toStrictEqual([{ ...told, sizeS: -3600 }]);
    expect(incidentsOf([change({ kind: 'loss', lossProven: true })], UTC)).toStrictEqual([told]);
    // The size is that of the hand that put it right, not of the loss.
    const both = incidentsOf([change({ lossProven: true, size: 7_200_000 })], UTC);
    expect(both[0]).toStrictEqual(told);
    expect(both.slice(1)).toMatchObject([{ kind: 'clock-changed', sizeS: 7200 }]);
    expect(incidentsOf([loss, change({ kind: 'year' })], UTC).map(({ kind }) => kind)).toStrictEqual([
      'power-loss',
      'clock-changed',
    ]);
    expect(incidentsOf([], UTC)).toStrictEqual([]);
  });
});
