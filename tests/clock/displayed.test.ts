/** Times read from the stamp alone. In Lisbon the hour from 01:00 of 25 October 2026 happens twice: at 00:00 UTC and at 01:00 UTC. */
import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { displayed, localEstimate } from '../../src/clock/displayed.ts';
import type { ClockTest } from '../../src/clock/history.ts';
import { zoneOf } from '../../src/core/zone.ts';
import { runsOr, seedOr } from '../support/seed.ts';
import { download, historyOf, setting, stamped, utc } from './hand-made.ts';

const lisbon = zoneOf('Europe/Lisbon');
const test = (stamp: string | undefined): ClockTest => ({ ...stamped('t', stamp), toldBy: utc('2026-12-01T00:00:00') });

describe('the stamp read as local time', () => {
  const within = (stamp: string | undefined, lo: number, hi: number) => localEstimate(test(stamp), lisbon, lo, hi);

  it('is the middle of what it can mean, where that lies within the bounds', () => {
    const noon = utc('2026-07-02T11:00:00'); // an hour ahead of UTC in summer
    expect(within('2026-07-02T12:00:00', noon, noon + 1000)).toBe(noon + 500);
    expect(within('2026-07-02T12:00', noon, noon + 60_000)).toBe(noon + 30_000);
    expect(within('2026-07-02T12:00:00', noon + 500, noon + 500)).toBe(noon + 500);
    expect(within('2026-07-02T12:00:00', noon + 501, noon + 1000)).toBeUndefined();
    expect(within('2026-07-02T12:00:00', noon, noon + 499)).toBeUndefined();
    expect(within(undefined, 0, noon)).toBeUndefined();
  });

  it('is the reading that the bounds allow where an hour happens twice or not at all, the earlier of both', () => {
    const [earlier, later] = [utc('2026-10-25T00:30:00'), utc('2026-10-25T01:30:00')];
    expect(within('2026-10-25T01:30:00', earlier, later + 1000)).toBe(earlier + 500);
    expect(within('2026-10-25T01:30:00', earlier + 1000, later + 1000)).toBe(later + 500);
    expect(within('2026-10-25T01:30:00', earlier + 1000, later)).toBeUndefined();
    // 29 March, 01:30: in winter time 01:30 UTC, in summer time 00:30 UTC.
    const skipped = utc('2026-03-29T00:30:00');
    expect(within('2026-03-29T01:30:00', skipped, skipped + 7_200_000)).toBe(skipped + 500);
    expect(within('2026-03-29T01:30:00', skipped + 1000, skipped + 7_200_000)).toBe(skipped + 3_600_500);
  });
});

describe('a meter whose clock no download saw', () => {
  const all = (...stamps: (string | undefined)[]) =>
    displayed(
      historyOf(
        stamps.map((s, i) => stamped(`t${i}`, s)),
        { zone: 'Europe/Lisbon' },
      ),
    ).map(({ placement: { takenAt, flags } }) => [takenAt, flags]);
  const repeated = ['time-repeated-hour'];

  it('has tests, and nothing of its downloads', () => {
    const at = '2026-07-03T10:00:00';
    const items = [stamped('t', '2026-07-02T12:00:00'), download('D1', [setting(at, at, 'refused')])];
    expect(displayed(historyOf(items, { zone: 'Europe/Lisbon' }))).toStrictEqual([
      {
        id: 't',
        placement: {
          takenAt: utc('2026-07-02T11:00:00') + 500,
          latest: utc(at) + 100,
          basis: 'displayed',
          reason:
            "No download showed the meter's clock: this is the meter's own stamp read as local time in Europe/Lisbon.",
          flags: [],
        },
      },
    ]);
    // A stamp behind the download that told it is that of a clock which was ahead.
    const early = [stamped('t', '2026-07-03T12:00:00'), items[1] as (typeof items)[1]];
    expect(displayed(historyOf(early, { zone: 'Europe/Lisbon' }))[0]?.placement.takenAt).toBe(utc(at) + 100);
  });

  it('may have made two tests in the same second of the hour that happens twice', () => {
    const earlier = utc('2026-10-25T00:30:00') + 500;
    expect(all('2026-10-25T01:30:00', '2026-10-25T01:30:00')).toEqual([
      [earlier, repeated],
      [earlier, repeated],
    ]);
    expect(all('2026-10-25T01:30:00', undefined, '2026-10-25T01:29:59')).toEqual([
      [earlier, repeated],
      [undefined, []],
      [earlier + 3_599_000, []],
    ]);
  });

  it('has an hour that happens twice judged by the latest of the tests before', () => {
    // The first was made at 01:50 UTC, whatever the second, of an earlier day, says.
    expect(all('2026-10-25T01:50:00', '2026-10-24T12:00:00', '2026-10-25T01:40:00').at(-1)).toEqual([
      utc('2026-10-25T01:40:00') + 500,
      [],
    ]);
  });

  const seed = seedOr(20260301);
  it(`shows the stamp again in its zone, but for an hour that was skipped (SEED=${seed})`, () => {
    fc.assert(
      fc.property(fc.integer({ min: Date.UTC(2020, 0, 1), max: Date.UTC(2026, 0, 1) }), (ms) => {
        const stamp = new Date(Math.floor(ms / 1000) * 1000).toISOString().slice(0, 19);
        const [only] = displayed(historyOf([stamped('t', stamp)], { zone: 'Europe/Lisbon' }));
        if (only?.placement.takenAt === undefined) throw new Error('a stamp that can be read gives a time');
        const shown = new Date(lisbon.wallAt(only.placement.takenAt)).toISOString().slice(0, 19);
        if (only.placement.flags.includes('time-skipped-hour')) expect(shown > stamp).toBe(true);
        else expect(shown).toBe(stamp);
      }),
      { seed, numRuns: runsOr(100) },
    );
  });
});
