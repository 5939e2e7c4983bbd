/**
 * What local time does to placing: clocks that are or are not moved for summer time, hours that happen twice or not at
 * all, half-hour zones, zones whose rules changed, docks that moved.
 */
import { describe, expect, it } from 'vitest';
import { download, placed, showing, stamped, utc } from './hand-made.ts';

/** A right clock at D1, a test, and at D2 what is given; the true times in UTC. */
const between = (zone: string, first: readonly [string, string], last: readonly [string, string], lastZone = zone) =>
  placed(
    [
      download('D1', [showing(...first)]),
      stamped('t', first[1].replace(/T\d\d/, 'T23')),
      download('D2', [showing(...last)], { zone: lastZone }),
    ],
    { zone },
  );

describe('summer time', () => {
  // Lisbon: UTC in winter, an hour ahead of it from 29 March 2026 at 01:00 UTC.
  it('does not move a clock by itself: it keeps its offset from UTC', () => {
    const { of, incidents } = between(
      'Europe/Lisbon',
      ['2026-03-20T10:00:00', '2026-03-20T10:00:00'],
      ['2026-04-10T10:00:00', '2026-04-10T10:00:00'],
    );
    expect(incidents).toEqual([]);
    expect(of('t').basis).toBe('interpolated');
    expect(of('t').takenAt).toBe(utc('2026-03-20T23:00:00') + 50);
    // What the nurse reads is in local time: at the second download the clock lies an hour behind.
    expect(of('t').reason).toContain('2026-04-10 11:00 (1 h behind)');
  });

  it.each([
    ['in spring', ['2026-03-20T10:00:00', '2026-03-20T10:00:00'], ['2026-04-10T10:00:00', '2026-04-10T11:00:00'], 3600],
    [
      'in autumn',
      ['2026-10-20T10:00:00', '2026-10-20T11:00:00'],
      ['2026-11-10T10:00:00', '2026-11-10T10:00:00'],
      -3600,
    ],
  ] as const)('followed by hand %s is told as such', (_, first, last, sizeS) => {
    const { incidents } = between('Europe/Lisbon', first, last);
    expect(incidents).toMatchObject([{ kind: 'clock-changed', likelyCause: 'set for summer or winter time' }]);
    expect(Math.abs((incidents[0]?.sizeS ?? 0) - sizeS)).toBeLessThanOrEqual(2);
  });

  it('taken the wrong way is a slip of an hour, not a clock set right', () => {
    const { incidents } = between(
      'Europe/Lisbon',
      ['2026-03-20T10:00:00', '2026-03-20T10:00:00'],
      ['2026-04-10T10:00:00', '2026-04-10T12:00:00'],
    );
    expect(incidents.map((i) => i.likelyCause)).toEqual([
      'set an hour off: summer time forgotten, or taken the wrong way',
    ]);
  });
});

describe('a stamp read as local time', () => {
  const displayed = (...stamps: string[]) =>
    placed(
      stamps.map((s, i) => stamped(`t${i}`, s)),
      { zone: 'Europe/Lisbon' },
    ).tests.map((t) => t.placement);

  it('in the hour that happens twice is decided by the order of the tests', () => {
    // 25 October 2026: 01:00 to 02:00 happens at 00:00 UTC (summer) and at 01:00 UTC (winter).
    const [first, second, third] = displayed('2026-10-25T01:50:00', '2026-10-25T01:10:00', '2026-10-25T02:10:00');
    expect(first?.takenAt).toBe(utc('2026-10-25T00:50:00') + 500);
    expect(second?.takenAt).toBe(utc('2026-10-25T01:10:00') + 500); // 00:10 would be before the test before
    expect(third?.takenAt).toBe(utc('2026-10-25T02:10:00') + 500);
  });

  it('in the hour that happens twice is flagged where the order does not decide', () => {
    const [first, second] = displayed('2026-10-25T01:50:00', '2026-10-25T01:10:00');
    expect(first?.flags).toEqual(['time-repeated-hour']);
    expect(second?.flags).toEqual([]);
  });

  it('in the hour that spring skips is that of a clock which was not moved, and is flagged', () => {
    // 29 March 2026: 01:00 to 02:00 does not exist; a clock left in winter time shows it at 01:00 UTC.
    const [test] = displayed('2026-03-29T01:30:00');
    expect(test?.takenAt).toBe(utc('2026-03-29T01:30:00') + 500);
    expect(test?.flags).toEqual(['time-skipped-hour']);
  });
});

describe('a clock set right is recognised', () => {
  // Two hours and 20 minutes off before, right after.
  it.each([
    ['Asia/Kolkata', 'five and a half hours ahead', '2026-03-05T13:30:00', '2026-03-05T23:30:00'],
    ['Australia/Adelaide', 'ten and a half hours ahead in their summer', '2026-03-05T18:30:00', '2026-03-06T04:30:00'],
    ['America/St_Johns', 'three and a half hours behind in winter', '2026-03-05T04:30:00', '2026-03-05T14:30:00'],
    ['Asia/Kathmandu', 'five hours and three quarters ahead', '2026-03-05T13:45:00', '2026-03-05T23:45:00'],
  ])('in %s, %s', (zone, _, localAt8, localAt18) => {
    const wrong = new Date(Date.parse(`${localAt8}Z`) + 140 * 60_000).toISOString().slice(0, 19);
    const history = (first: string, last: string) =>
      placed(
        [
          download('D1', [showing('2026-03-05T08:00:00', first)]),
          download('D2', [showing('2026-03-05T18:00:00', last)]),
        ],
        { zone },
      ).incidents;
    expect(history(wrong, localAt18)).toMatchObject([{ likelyCause: 'set by hand', sizeS: -140 * 60 }]);
    // Half an hour beside local time is no usual cause: the zone's half hour is taken into account.
    const besides = new Date(Date.parse(`${localAt18}Z`) + 30 * 60_000).toISOString().slice(0, 19);
    expect(history(wrong, besides).map((i) => i.likelyCause)).toEqual(['no usual cause fits the size']);
  });

  it('by the rules that were in force at that time', () => {
    // Sao Paulo had summer time (two hours behind UTC) in December 2018 and, since 2019, none (three hours behind).
    const moved = (year: number) =>
      placed(
        [
          download('D1', [showing(`${year}-12-05T08:00:00`, `${year}-12-05T05:00:00`)]),
          download('D2', [showing(`${year}-12-05T18:00:00`, `${year}-12-05T16:00:00`)]),
        ],
        { zone: 'America/Sao_Paulo' },
      ).incidents.map((i) => i.likelyCause);
    expect(moved(2018)).toEqual(['put right after being an hour off: summer time']);
    expect(moved(2019)).toEqual(['set an hour off: summer time forgotten, or taken the wrong way']);
  });

  it('by the zone of either dock where a meter moved from one to another', () => {
    // Lisbon in March is UTC; New York from 8 March on is four hours behind.
    const { incidents, of } = between(
      'Europe/Lisbon',
      ['2026-03-20T10:00:00', '2026-03-20T10:00:00'],
      ['2026-03-28T10:00:00', '2026-03-28T06:00:00'],
      'America/New_York',
    );
    expect(incidents).toMatchObject([{ kind: 'clock-changed', sizeS: -4 * 3600, likelyCause: 'set by hand' }]);
    expect(of('t').latest).toBeLessThanOrEqual(utc('2026-03-28T10:00:01'));
  });

  it('only in the zone where the meter is', () => {
    const { incidents } = between(
      'Europe/Lisbon',
      ['2026-03-20T10:00:00', '2026-03-20T10:00:00'],
      ['2026-03-28T10:00:00', '2026-03-28T06:00:00'],
    );
    expect(incidents.map((i) => i.likelyCause)).toEqual(['no usual cause fits the size']);
  });
});

it('the estimate of a test that only its neighbours bound is its stamp in the zone of the dock behind it', () => {
  const { of } = placed(
    [
      download('D1', [showing('2026-07-02T10:00:00', '2026-07-02T23:00:00')]),
      stamped('t', '2026-07-02T20:00:00'),
      download('D2', [showing('2026-07-12T21:00:00', '2026-07-13T10:00:00')]),
    ],
    { zone: 'Europe/Lisbon' },
  );
  // Twelve hours ahead at both ends, right in between: 20:00 in Lisbon in summer is 19:00 UTC.
  expect(of('t').takenAt).toBe(utc('2026-07-02T19:00:00') + 500);
});
