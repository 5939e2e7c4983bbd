/** Where a rising function reaches a value: to the last digit, and in few steps. */
import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { whereReached } from '../../../src/clinic/statistics/where-reached.ts';
import { runsOr, seedOr } from '../../support/seed.ts';

const SEED = seedOr(20260302);

/** The result, and how often the function was asked. */
function counted(rising: (x: number) => number, target: number, low: number, high: number) {
  let asked = 0;
  const found = whereReached(
    (x) => {
      asked++;
      return rising(x);
    },
    target,
    low,
    high,
  );
  return { found, asked };
}

describe('where a rising function reaches a value', () => {
  it('is the nearer end where it never does', () => {
    expect(whereReached((x) => x, -5, 0, 1)).toBe(0);
    expect(whereReached((x) => x, 0, 0, 1)).toBe(0);
    expect(whereReached((x) => x, 1, 0, 1)).toBe(1);
    expect(whereReached((x) => x, 5, 0, 1)).toBe(1);
    // It need not be asked again for that.
    expect(counted((x) => x, -5, 0, 1).asked).toBe(2);
    expect(counted((x) => x, 5, 0, 1).asked).toBe(2);
  });

  it('is the side of a step that comes nearer to it', () => {
    const step = (x: number): number => (x < 0.3 ? 0 : 1);
    expect(whereReached(step, 0.6, 0, 1)).toBe(0.3);
    expect(whereReached(step, 0.4, 0, 1)).toBe(0.3 - 2 ** -54);
    expect(whereReached(step, 0.5, 0, 1)).toBe(0.3);
  });

  // Halving alone would ask some 55 times.
  it.each([
    ['a straight line', (x: number) => 3 * x - 1, 1, 2 / 3, 5],
    ['a cube', (x: number) => x ** 3, 0.001, 0.1, 28],
    ['a curve that is flat first', (x: number) => Math.expm1(20 * x), 5, Math.log(6) / 20, 26],
    ['a curve that is steep first', (x: number) => Math.sqrt(x), 0.03, 0.0009, 18],
    ['a curve about nought', (x: number) => Math.atan(40 * (x - 0.5)), 0.25, 0.5 + Math.tan(0.25) / 40, 20],
  ])('is found in few steps on %s', (_, rising, target, root, most) => {
    const { found, asked } = counted(rising, target, 0, 1);
    expect(found).toBeCloseTo(root, 14);
    expect(asked).toBeLessThanOrEqual(most);
  });

  it('takes no more than four steps to halve what is left, however the function is made', () => {
    const steps = (x: number): number => Math.floor(x * 7) ** 9;
    for (const target of [0.5, 1.5, 600, 3e4, 2e6]) expect(counted(steps, target, 0, 1).asked).toBeLessThan(4 * 60);
  });

  it(`has the value between what the function is there and beside it (SEED=${SEED})`, () => {
    fc.assert(
      fc.property(fc.integer({ min: 1, max: 9 }), fc.double({ min: 0, max: 1, noNaN: true }), (power, target) => {
        const rising = (x: number): number => x ** power;
        const found = whereReached(rising, target, 0, 1);
        expect(rising(found * (1 - 4e-16))).toBeLessThanOrEqual(target);
        expect(rising(Math.min(1, found * (1 + 4e-16)))).toBeGreaterThanOrEqual(target);
      }),
      { seed: SEED, numRuns: runsOr(300) },
    );
  });
});
