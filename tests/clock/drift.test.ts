/** A meter's own usual drift, as learned from its downloads. */
import { describe, expect, it } from 'vitest';
import { type DriftState, driftAnchor, driftBreak, driftOf, NO_DRIFT } from '../../src/clock/drift.ts';
import type { ClockReadout } from '../../src/clock/history.ts';
import { place } from '../../src/clock/place.ts';
import { instant } from '../../src/core/instant.ts';
import { meterTimeOf, wall } from '../../src/core/meter-time.ts';
import { zoneOf } from '../../src/core/zone.ts';
import { runsOr, seedOr } from '../support/seed.ts';
import { download, placed, setting, showing, stamped, utc } from './hand-made.ts';
import { random } from './worlds.ts';

const seed = seedOr(20260301);
const DAY = 86_400_000;
const START = Date.UTC(2025, 0, 6, 9);

/** Downloads, 3 to 10 weeks apart, of a meter whose clock gains `ppm` for ever. */
function steadyMeter(ppm: number, downloads: number, r: () => number): ClockReadout[] {
  let t = START;
  const off = (r() * 2 - 1) * 120_000;
  return Array.from({ length: downloads }, (_, i) => {
    t = Math.round(t + (21 + 49 * r()) * DAY);
    const tookMs = 60 + Math.floor(r() * 200);
    const moment = t + r() * tookMs;
    const clock = moment + off + (moment - START) * ppm * 1e-6;
    return {
      kind: 'readout',
      id: `D${i}`,
      zone: zoneOf('Etc/UTC'),
      mayPrecede: 0,
      events: [
        {
          kind: 'anchor',
          shown: meterTimeOf(wall(Math.floor(clock)), 1000),
          from: instant(t),
          to: instant(t + tookMs),
        },
      ],
    };
  });
}

describe(`the learned drift (SEED=${seed})`, () => {
  it.each([2, 3, 8])(
    'equals the true one within three times its stated uncertainty, after %d downloads',
    (downloads) => {
      for (let s = seed; s < seed + runsOr(200); s++) {
        const r = random(s);
        const ppm = (r() * 2 - 1) * 90;
        const { drift } = place({
          items: steadyMeter(ppm, downloads, r),
          habits: { driftPpm: 100, resets: 'new-year' },
          zone: zoneOf('Etc/UTC'),
        });
        // Gained a unit of wall time, not of true time.
        const truth = (ppm * 1e-6) / (1 + ppm * 1e-6);
        expect(drift.learned).toBe(true);
        expect(Math.abs(drift.rate - truth), `seed ${s}, ${ppm} ppm`).toBeLessThanOrEqual(3 * drift.sd);
        // Half a second at either end of three weeks or more is less than 1 ppm: the uncertainty says something.
        expect(drift.sd).toBeLessThan(2e-6);
      }
    },
  );

  it('is nothing, and says so, after one download', () => {
    const { drift } = placed([download('D1', [showing('2026-03-02T10:00:00', '2026-03-02T10:00:00')])]);
    expect(drift).toMatchObject({ rate: 0, learned: false });
  });

  it('learns nothing from downloads less than four hours apart, as hwclock does not', () => {
    const apart = (later: string) =>
      placed([
        download('D1', [showing('2026-03-02T10:00:00', '2026-03-02T10:00:00')]),
        download('D2', [showing(later, later)]),
      ]).drift.learned;
    expect(apart('2026-03-02T13:59:59')).toBe(false);
    expect(apart('2026-03-02T14:00:00')).toBe(true);
  });

  it.each([
    ['put right by hand', '2026-03-02T10:10:00', '2026-04-01T10:00:00', []],
    ['set an hour off', '2026-03-02T10:00:00', '2026-04-01T11:00:00', []],
    ['lost by the power', '2026-03-02T10:00:00', '2010-01-09T10:00:00', []],
    [
      'changed, as stamps going back show,',
      '2026-03-02T10:00:00',
      '2026-04-01T10:00:00',
      [stamped('t', '2026-03-09T10:00:00'), stamped('u', '2026-03-08T10:00:00')],
    ],
  ])('learns nothing from a clock that was %s in between', (_, first, last, tests) => {
    const { drift, incidents } = placed([
      download('D1', [showing('2026-03-02T10:00:00', first)]),
      ...tests,
      download('D2', [showing('2026-04-01T10:00:00', last)]),
    ]);
    expect(incidents.length).toBeGreaterThan(0);
    expect(drift).toMatchObject({ rate: 0, learned: false });
  });

  it('keeps what it learned before a change, and goes on after it', () => {
    const gains = (id: string, at: string, clock: string) => download(id, [showing(at, clock)]);
    const before = [
      gains('D1', '2026-01-01T10:00:00', '2026-01-01T10:00:00'),
      gains('D2', '2026-01-31T10:00:00', '2026-01-31T10:01:18'), // 78 s in 30 days: 30 ppm
    ];
    const change = gains('D3', '2026-02-10T10:00:00', '2026-02-10T11:00:00');
    const after = gains('D4', '2026-03-12T10:00:00', '2026-03-12T11:01:18');
    const rates = [before, [...before, change], [...before, change, after]].map((items) => placed(items).drift);
    for (const { rate } of rates) expect(Math.abs(rate - 30e-6)).toBeLessThan(0.3e-6);
    expect(rates[1]?.rate).toBe(rates[0]?.rate);
    expect(rates[2]?.sd).toBeLessThan(rates[1]?.sd ?? 0);
  });

  it('does not take a setting by the gateway for drift', () => {
    const { drift } = placed([
      download('D1', [
        showing('2026-03-02T10:00:00', '2026-03-02T09:59:00'),
        setting('2026-03-02T10:00:05', '2026-03-02T10:00:05'),
      ]),
      download('D2', [showing('2026-04-01T10:00:00', '2026-04-01T10:00:00')]),
    ]);
    expect(drift.learned).toBe(true);
    expect(Math.abs(drift.rate)).toBeLessThan(0.5e-6);
  });

  it('moves estimates outside two downloads, while bounds keep to the profile', () => {
    // 30 ppm fast; the test 20 days after the last download: 51.84 s gained since.
    const { of } = placed(
      [
        download('D1', [showing('2026-01-01T10:00:00', '2026-01-01T10:00:00')]),
        download('D2', [showing('2026-01-31T10:00:00', '2026-01-31T10:01:18')]),
        stamped('t', '2026-02-20T10:02:10'),
      ],
      { end: '2026-03-01T00:00:00' },
    );
    expect(Math.abs((of('t').takenAt ?? 0) - utc('2026-02-20T10:00:00'))).toBeLessThan(1500);
    // 100 ppm of 20 days is 172.8 s, either way; the offset at the download is known to 1.1 s, the stamp to 1 s.
    const width = (of('t').latest ?? 0) - (of('t').earliest ?? 0);
    expect(width).toBeGreaterThan(2 * 172_800);
    expect(width).toBeLessThan(2 * 172_900 + 2_200);
  });
});

describe('what one meter teaches about its drift', () => {
  // 4 hours between two anchors that are known to 1 and to 2 s: 1.5 s gained, middle to middle.
  const HOURS_4 = 14_400_000;
  const start = { wall: 7, lo: 0, hi: 1000 };
  const end = { wall: 7 + HOURS_4, lo: 1000, hi: 3000 };
  const seen = driftAnchor(driftAnchor(NO_DRIFT, start), end);
  // The variance of the two: (1000^2 + 2000^2) / 12. The prior weighs as much as one sample with 20 ppm.
  const WEIGHT = HOURS_4 ** 2 / (5_000_000 / 12);
  const PRIOR = 2.5e9;
  const RATE = 1500 / HOURS_4;
  const expected = (weight: number, weighted: number) => ({
    rate: weighted / (weight + PRIOR),
    sd: Math.sqrt(1 / (weight + PRIOR) + 1e-12),
  });
  const near = (state: DriftState, weight: number, weighted: number): void => {
    const drift = driftOf(state);
    const e = expected(weight, weighted);
    expect(drift.rate / e.rate).toBeCloseTo(1, 9);
    expect(drift.sd / e.sd).toBeCloseTo(1, 9);
    expect(drift.learned).toBe(true);
  };

  it('is nothing at first: 20 ppm either way', () => {
    expect(driftOf(NO_DRIFT)).toEqual({ rate: 0, sd: Math.sqrt(4e-10 + 1e-12), learned: false });
    expect(driftOf(driftAnchor(NO_DRIFT, start))).toEqual(driftOf(NO_DRIFT));
    expect(driftOf({ ...NO_DRIFT, end })).toEqual(driftOf(NO_DRIFT));
  });

  it('is weighed by how long a stretch lasted and how well its ends are known', () => {
    expect(WEIGHT).toBeCloseTo(497_664_000, 3);
    near(seen, WEIGHT, WEIGHT * RATE);
    // Ends known exactly count as known to a millisecond or so, not as beyond all doubt.
    const exact = driftAnchor(driftAnchor(NO_DRIFT, { wall: 0, lo: 5, hi: 5 }), { wall: HOURS_4, lo: 65, hi: 65 });
    near(exact, HOURS_4 ** 2, HOURS_4 * 60);
  });

  it('is nothing from less than 4 hours', () => {
    const short = driftAnchor(driftAnchor(NO_DRIFT, start), { ...end, wall: end.wall - 1 });
    expect(driftOf(short)).toEqual(driftOf(NO_DRIFT));
    expect(driftBreak(short)).toEqual(NO_DRIFT);
  });

  it('is measured from the first anchor of an epoch to the last', () => {
    const later = { wall: 7 + 3 * HOURS_4, lo: 4000, hi: 5000 };
    const weight = (3 * HOURS_4) ** 2 / (2_000_000 / 12);
    near(driftAnchor(seen, later), weight, (weight * 4000) / (3 * HOURS_4));
  });

  it('adds up over epochs, and each begins with an anchor of its own', () => {
    const once = driftBreak(seen);
    expect(once.weight / WEIGHT).toBeCloseTo(1, 9);
    expect(once).toEqual({ weight: once.weight, weighted: once.weighted });
    near(once, WEIGHT, WEIGHT * RATE);
    const next = driftBreak(seen, { wall: 0, lo: 0, hi: 1000 });
    expect(next).toEqual({ ...once, start: { wall: 0, lo: 0, hi: 1000 } });
    // As long and as sharp a stretch that lost as much as the first gained: no drift, twice as sure.
    const lost = driftAnchor(next, { wall: HOURS_4, lo: -2000, hi: 0 });
    expect(Math.abs(driftOf(lost).rate)).toBeLessThan(1e-12);
    expect(driftOf(lost).sd / expected(2 * WEIGHT, 1).sd).toBeCloseTo(1, 9);
    near(driftBreak(driftAnchor(next, { ...end, wall: HOURS_4 })), 2 * WEIGHT, 2 * WEIGHT * RATE);
  });
});
