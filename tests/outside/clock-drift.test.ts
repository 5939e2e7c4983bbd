/**
 * Drift against figures from outside.
 *
 * The worked example of hwclock(8) (util-linux): a clock that was set right and is 10 seconds ahead 5 days later drifts
 * by 2 seconds a day. The figures of crystals are arithmetic on the definition: 1 part per million is 0.0864 s a day, and
 * a watch crystal's make tolerance of 20 ppm and our limit of 100 ppm follow from that.
 */
import { describe, expect, it } from 'vitest';
import { SECONDS_A_MONTH } from '../../src/clock/fast-drift.ts';
import { download, placed, showing, stamped } from '../clock/hand-made.ts';

describe('the worked example of hwclock(8)', () => {
  const { drift } = placed([
    download('D1', [showing('2026-03-02T10:00:00', '2026-03-02T10:00:00')]),
    download('D2', [showing('2026-03-07T10:00:00', '2026-03-07T10:00:10')]),
  ]);

  it('is a drift of 2 seconds a day here too', () => {
    // Two clocks that show whole seconds leave about half a second in 5 days open, hwclock's own example is exact.
    expect(Math.abs(drift.rate * 86_400 - 2)).toBeLessThan(0.02);
    expect(Math.abs(drift.rate * 86_400 - 2)).toBeLessThan(drift.sd * 86_400);
  });

  it('is 23.1 ppm, or 60 seconds in 30 days', () => {
    expect(Math.abs(drift.rate * 1e6 - 2 / 0.0864)).toBeLessThan(0.2);
    expect(Math.abs(drift.rate * 1e6 * SECONDS_A_MONTH - 60)).toBeLessThan(0.6);
  });
});

describe('the bounds that a drift limit gives', () => {
  // Rows: ppm, s a day, s in 30 days.
  it.each([
    [5, 0.43, 13],
    [20, 1.73, 52],
    [50, 4.32, 130],
    [100, 8.64, 259],
  ])('of %d ppm widen by %d s a day and %d s in 30 days, either way', (ppm, aDay, aMonth) => {
    const widthS = (stamp: string): number => {
      const { of } = placed(
        [download('D1', [showing('2026-03-02T10:00:00', '2026-03-02T10:00:00', 0)]), stamped('t', stamp)],
        { end: '2026-05-01T00:00:00', habits: { driftPpm: ppm, resets: 'new-year' } },
      );
      return ((of('t').latest ?? 0) - (of('t').earliest ?? 0)) / 1000;
    };
    // What is open without any drift: the second shown at the download and that of the stamp.
    const still = 2;
    expect(Math.abs((widthS('2026-03-03T10:00:00') - still) / 2 - aDay)).toBeLessThan(0.006);
    expect(Math.abs((widthS('2026-04-01T10:00:00') - still) / 2 - aMonth)).toBeLessThan(0.5);
  });
});
