/** The clock of a virtual meter. */
import { describe, expect, it } from 'vitest';
import { instant } from '../../src/core/instant.ts';
import { formatWall, wall } from '../../src/core/meter-time.ts';
import { losePower, type MeterClock, readClock, setClock } from '../../src/virtual/clock.ts';

const START = instant(Date.UTC(2026, 0, 1));
const DAY_MS = 86_400_000;
const clock = (rate: MeterClock['rate'], defaultStamp?: number): MeterClock => ({
  rate,
  losses: 0,
  setting: { at: START, shows: wall(START) },
  ...(defaultStamp === undefined ? {} : { defaultStamp: wall(defaultStamp) }),
});

describe('the clock of a virtual meter', () => {
  it('gains 1.728 s a day at 20 ppm (facts: 1 ppm is 0.0864 s a day)', () => {
    const shows = readClock(clock({ ppm: 20 }), instant(START + DAY_MS));
    expect((shows ?? 0) - START - DAY_MS).toBeCloseTo(1728, 3);
  });

  it('sways with the year around its steady rate, and the sway cancels out over a whole year', () => {
    const swaying = clock({ ppm: 0, swayPpm: 10, swayPhase: 0.3 });
    const gain = (days: number): number =>
      (readClock(swaying, instant(START + days * DAY_MS)) ?? 0) - START - days * DAY_MS;
    expect(gain(365.25)).toBeCloseTo(0, 0);
    // The rate is the slope of what it gains: 10 ppm at the most, half a day either side of every day of a year.
    const slopes = Array.from({ length: 365 }, (_, day) => ((gain(day + 1) - gain(day)) / DAY_MS) * 1e6);
    expect(Math.max(...slopes)).toBeCloseTo(10, 1);
    expect(Math.min(...slopes)).toBeCloseTo(-10, 1);
  });

  it('runs from its default stamp after a power loss and counts the loss', () => {
    const lostAt = instant(START + 10 * DAY_MS);
    const after = losePower(clock({ ppm: 0 }, Date.UTC(2000, 0, 1)), lostAt);
    expect(after.losses).toBe(1);
    expect(formatWall(readClock(after, instant(lostAt + 90_000)) ?? wall(0))).toBe('2000-01-01T00:01:30');
  });

  it('is not set after a power loss where it has no default, until somebody sets it', () => {
    const lostAt = instant(START + 10 * DAY_MS);
    const after = losePower(clock({ ppm: 0 }), lostAt);
    expect(readClock(after, instant(lostAt + 90_000))).toBeUndefined();
    const set = setClock(after, instant(lostAt + 90_000), wall(START));
    expect(readClock(set, instant(lostAt + 95_000))).toBe(START + 5000);
  });
});
