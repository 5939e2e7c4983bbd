/**
 * Deming's line against published examples and second ways. The jackknife is done again by leaving pairs out one by one,
 * with the t distribution and the standard deviation of jStat.
 */
import { createRequire } from 'node:module';
import { describe, expect, it } from 'vitest';
import { deming } from '../../src/clinic/comparison/deming.ts';
import { zip } from '../clinic/comparison/values.ts';

/** The part of jStat, which has no types of its own, that is used here. */
interface JStat {
  mean(values: readonly number[]): number;
  sum(values: readonly number[]): number;
  stdev(values: readonly number[], isSample: boolean): number;
  readonly studentt: { inv(p: number, df: number): number };
}
const { jStat } = createRequire(import.meta.url)('jstat') as { jStat: JStat };

/** From the tests of the R package deming (tests/dtest): x = 1 … 10, y = 2.3 x + (0, −1, 2, −3, 4, −5, 6, −7, 8, −5) / 2. */
const TEN = [0, -1, 2, -3, 4, -5, 6, -7, 8, -5].map((off, i) => ({ x: i + 1, y: 2.3 * (i + 1) + off / 2 }));

/** Wicklin, "Deming regression for comparing different measurement methods", The DO Loop, 7 January 2019: 65 invented pairs. */
const SIXTY_FIVE = zip(
  [169, 130.8, 109, 94.1, 86.3, 78.4, 76.1, 72.2, 70, 69.8, 69.5, 68.7, 67.3]
    .concat([174.7, 137.9, 114.6, 99.8, 90.1, 85.1, 80.7, 78.1, 77.8, 76, 77.8, 74.2, 73.1])
    .concat([182.5, 144, 123.8, 107.6, 96.9, 92.8, 87.2, 86.3, 84.4, 83.7, 83.3, 83.9, 82.7])
    .concat([160.8, 122.7, 102.6, 86.6, 76.1, 69.6, 66.7, 64.4, 63, 61.7, 61.2, 62.4, 58.4])
    .concat([171.3, 136.3, 111.9, 96.5, 90.3, 82.9, 78.1, 76.5, 73.5, 74.4, 73.9, 71.9, 72]),
  [45.5, 33.4, 23.8, 19.8, 20.4, 18.7, 16.1, 16.7, 11.9, 14.6, 10.6, 12.7, 16.9]
    .concat([57.8, 39, 30.4, 21.1, 21.7, 25.2, 20.6, 19.3, 20.9, 18.2, 18.3, 15.7, 13.9])
    .concat([55.5, 38.7, 35.1, 30.6, 25.7, 19.2, 22.4, 18.4, 20.7, 20.6, 20, 18.8, 21.8])
    .concat([49.9, 32.2, 19.2, 14.7, 16.6, 18.8, 7.4, 8.2, 15.5, 13.7, 9.2, 12, 15.2])
    .concat([48.7, 36.1, 28.6, 21.8, 25.6, 16.8, 14.1, 14.2, 11.9, 17.7, 17.6, 10.2, 15.6]),
);

const sums = (pairs: readonly { x: number; y: number }[]) => {
  const mx = jStat.mean(pairs.map(({ x }) => x));
  const my = jStat.mean(pairs.map(({ y }) => y));
  const of = (f: (dx: number, dy: number) => number) => jStat.sum(pairs.map(({ x, y }) => f(x - mx, y - my)));
  return { mx, my, xx: of((dx) => dx * dx), yy: of((_, dy) => dy * dy), xy: of((dx, dy) => dx * dy) };
};

describe('published examples', () => {
  it('have slope 2.532471 and intercept −1.328592 by the closed form of tests/dtest', () => {
    const fit = deming(TEN);
    expect(fit?.slope.value).toBeCloseTo(2.532471, 6);
    expect(fit?.intercept.value).toBeCloseTo(-1.328592, 6);
  });

  it('have the printed slope 0.354463 and intercept −10.56415 of 65 pairs, error ratio Sxx/Syy as there', () => {
    const { xx, yy } = sums(SIXTY_FIVE);
    const fit = deming(SIXTY_FIVE, xx / yy);
    expect(fit?.slope.value.toFixed(6)).toBe('0.354463');
    expect(fit?.intercept.value.toFixed(5)).toBe('-10.56415');
  });
});

describe('second ways', () => {
  it.each([
    ['10 pairs', TEN],
    ['65 pairs', SIXTY_FIVE],
  ])('of %s with equal errors: the long axis of the scatter, found by its angle', (_what, pairs) => {
    const { xx, yy, xy } = sums(pairs);
    expect(deming(pairs)?.slope.value).toBeCloseTo(Math.tan(Math.atan2(2 * xy, xx - yy) / 2), 10);
  });

  it.each([0.25, 1, 4])('with error ratio %d: no other slope leaves less, weighed by the errors', (delta) => {
    const { mx, my } = sums(SIXTY_FIVE);
    const left = (slope: number) =>
      jStat.sum(SIXTY_FIVE.map(({ x, y }) => (y - my - slope * (x - mx)) ** 2 / (delta + slope * slope)));
    const slope = deming(SIXTY_FIVE, delta)?.slope.value ?? Number.NaN;
    for (const step of [1e-4, 1e-3, 0.1, 1]) {
      expect(left(slope)).toBeLessThan(left(slope + step));
      expect(left(slope)).toBeLessThan(left(slope - step));
    }
  });

  it.each([
    ['10 pairs', TEN, 1],
    ['65 pairs', SIXTY_FIVE, 2],
  ])('of %s: the jackknife by leaving each pair out in turn', (_what, pairs, delta) => {
    const fit = deming(pairs, delta, 0.9);
    const n = pairs.length;
    const left = pairs.map((_, leftOut) =>
      deming(
        pairs.filter((_, i) => i !== leftOut),
        delta,
      ),
    );
    const t = jStat.studentt.inv(0.95, n - 2);
    for (const key of ['slope', 'intercept'] as const) {
      const whole = fit?.[key].value ?? Number.NaN;
      const pseudo = left.map((line) => n * whole - (n - 1) * (line?.[key].value ?? Number.NaN));
      const error = jStat.stdev(pseudo, true) / Math.sqrt(n);
      expect(fit?.[key].standardError).toBeCloseTo(error, 8);
      expect(fit?.[key].low).toBeCloseTo(whole - t * error, 6);
      expect(fit?.[key].high).toBeCloseTo(whole + t * error, 6);
    }
  });
});
