/**
 * Limits of agreement against the worked example of the method's own paper: Bland & Altman, Lancet 1986;i:307-310, peak
 * flow of 17 people by two meters, in l/min (data and printed figures from memory; the data give the printed figures).
 * The paper takes 2 standard deviations, t = 2.12 for 16 degrees of freedom, and differences large − mini.
 */
import { describe, expect, it } from 'vitest';
import { blandAltman } from '../../src/clinic/comparison/bland-altman.ts';
import { correlation, momentsOf } from '../../src/clinic/comparison/moments.ts';
import { zip } from '../clinic/comparison/values.ts';

const LARGE = [494, 395, 516, 434, 476, 557, 413, 442, 650, 433, 417, 656, 267, 478, 178, 423, 427];
const MINI = [512, 430, 520, 428, 500, 600, 364, 380, 658, 445, 432, 626, 260, 477, 259, 350, 451];
const PAIRS = zip(MINI, LARGE);

describe('the example of Bland and Altman 1986', () => {
  const found = blandAltman(PAIRS, 'absolute', 0.95, 2);

  it('has the printed mean difference, standard deviation and correlation', () => {
    expect(found.bias.value.toFixed(1)).toBe('-2.1');
    expect(found.standardDeviation.toFixed(1)).toBe('38.8');
    expect(correlation(momentsOf(PAIRS)).toFixed(2)).toBe('0.94');
  });

  it('has the printed standard errors, 9.4 and 16.3', () => {
    expect(found.bias.standardError.toFixed(1)).toBe('9.4');
    expect(found.lowerLimit.standardError.toFixed(1)).toBe('16.3');
    expect(found.upperLimit.standardError.toFixed(1)).toBe('16.3');
  });

  // Printed: limits -79.7 and 75.5; intervals -22.0 to 17.8, -114.3 to -45.1, 40.9 to 110.1. They were reckoned from
  // -2.1, 38.8, 9.4, 16.3 and 2.12, so each may differ by what those were rounded by: 0.15 for a limit, 0.4 for an end.
  it.each([
    ['bias', -2.1, 0.05, -22.0, 17.8],
    ['lowerLimit', -79.7, 0.15, -114.3, -45.1],
    ['upperLimit', 75.5, 0.15, 40.9, 110.1],
  ] as const)('has the printed %s with its interval', (name, value, rounding, low, high) => {
    expect(Math.abs(found[name].value - value)).toBeLessThan(rounding);
    expect(Math.abs(found[name].low - low)).toBeLessThan(0.4);
    expect(Math.abs(found[name].high - high)).toBeLessThan(0.4);
  });

  it('has limits of 1.96 standard deviations where nothing else is asked for', () => {
    // -2.117647 ∓ 1.96 · 38.765096, reckoned apart from this program.
    const usual = blandAltman(PAIRS, 'absolute');
    expect(usual.lowerLimit.value).toBeCloseTo(-78.0973, 3);
    expect(usual.upperLimit.value).toBeCloseTo(73.862, 3);
  });
});
