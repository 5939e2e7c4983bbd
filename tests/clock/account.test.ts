/**
 * The account of a placed test, and a clock at a glance, for the clock that gains a minute in 30 days of place.test.ts: 30 s
 * ahead at the first download (29.9 to 31.0 s), 90 s at the second (89.9 to 91.0 s).
 */
import { describe, expect, it } from 'vitest';
import { accountOf } from '../../src/clock/account.ts';
import { meterClock } from '../../src/clock/meter-clock.ts';
import { download, placed, showing, stamped, utc } from './hand-made.ts';

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
});
