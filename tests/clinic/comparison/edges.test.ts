/** Lines through few pairs, and pairs that give none: by the definitions of the methods. */
import { describe, expect, it } from 'vitest';
import { blandAltman } from '../../../src/clinic/comparison/bland-altman.ts';
import { cusumTest } from '../../../src/clinic/comparison/cusum-test.ts';
import { passingBablok } from '../../../src/clinic/comparison/passing-bablok.ts';

const points = (...all: readonly (readonly [number, number])[]) => all.map(([x, y]) => ({ x, y }));

describe('Passing and Bablok’s line', () => {
  it('has no limits where three pairs give no rank for them, though slopes below −1 shift the middle', () => {
    // Slopes 1, −0.75 and −2.5: of three, shifted by the one below −1, the middle one is 1.
    const fit = passingBablok(points([0, 0], [1, 1], [2, -1.5]));
    expect(fit).toMatchObject({ slopes: 3, shift: 1 });
    expect(fit?.slope).toStrictEqual({ value: 1 });
    expect(Object.keys(fit?.intercept ?? {})).toEqual(['value']);
  });

  it('has the least and the greatest slope for limits where five pairs reach the first rank', () => {
    // N = 10, C = 1.96·√(5·4·15/18) = 8.00: M1 = 1, M2 = 10. Slopes 1 to 3 between neighbours: 1, 2, 3, 1.5.
    const pairs = points([0, 0], [1, 1], [2, 3], [3, 6], [4, 7.5]);
    const fit = passingBablok(pairs);
    expect(fit?.slope).toMatchObject({ low: 1, high: 3 });
    // Medians of y − 3x (0, −2, −3, −3, −4.5) and of y − x (0, 0, 1, 3, 3.5).
    expect(fit?.intercept).toMatchObject({ low: -3, high: 1 });
  });

  it('is not found where the slope in the middle is endless, or one of the two there', () => {
    expect(passingBablok(points([1, 1], [1, 2], [1, 3]))).toBeUndefined();
    // 0 and endless; the third, of exactly −1, is left out.
    expect(passingBablok(points([0, 0], [0, 1], [1, 0]))).toBeUndefined();
  });
});

describe('the test of a straight line', () => {
  it('counts points on the line, to what decimals leave behind, and needs some on both sides', () => {
    const line = { slope: 0.1, intercept: 0 };
    expect(cusumTest(points([3, 0.3], [1, 0.2], [2, 0.1], [4, 0.3]), line)).toMatchObject({
      above: 1,
      below: 2,
      on: 1,
    });
    expect(cusumTest(points([1, 0], [2, 0], [3, 0.3]), line)).toEqual({
      above: 0,
      below: 2,
      on: 1,
      verdict: 'not judged',
    });
    expect(cusumTest(points([1, 1], [2, 1], [3, 0.3]), line)).toEqual({
      above: 2,
      below: 0,
      on: 1,
      verdict: 'not judged',
    });
  });
});

describe('the limits of agreement', () => {
  it('have intervals by Student’s t with one degree less than there are pairs', () => {
    // Differences 0, 1, 2, 3, 4: spread √2.5. t of 4 degrees at 97.5 %: 2.776 (table of Student's t, from memory).
    const found = blandAltman(points([1, 1], [1, 2], [1, 3], [1, 4], [1, 5]), 'absolute');
    const s = Math.sqrt(2.5);
    expect(found.standardDeviation).toBeCloseTo(s, 12);
    expect(found.upperLimit.value).toBeCloseTo(2 + found.multiple * s, 12);
    expect(((found.upperLimit.high ?? 0) - found.upperLimit.value) / (Math.sqrt(3 / 5) * s)).toBeCloseTo(2.776, 3);
    expect(((found.bias.high ?? 0) - 2) / (s / Math.sqrt(5))).toBeCloseTo(2.776, 3);
  });
});
