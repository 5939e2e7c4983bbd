/** The chance of so many failed tests, against the binomial sum in exact fractions (Feller, vol. 1, VI.2). */
import { describe, expect, it } from 'vitest';
import { chanceOfAtLeast } from '../../src/clinic/statistics/proportion.ts';
import { asNumber, minus, plus, type Rational, rational, times } from '../support/rational.ts';

function power(base: Rational, exponent: number): Rational {
  return { top: base.top ** BigInt(exponent), bottom: base.bottom ** BigInt(exponent) };
}

function exactChance(hits: number, tries: number, rate: string): Rational {
  const [p, q] = [rational(rate), minus(rational(1), rational(rate))];
  let sum = rational(0);
  let ways = 1n;
  for (let k = 0; k <= tries; k++) {
    if (k >= hits) sum = plus(sum, times(rational(ways), times(power(p, k), power(q, tries - k))));
    ways = (ways * BigInt(tries - k)) / BigInt(k + 1);
  }
  return sum;
}

describe('the chance of at least so many errors', () => {
  it.each([
    [1, 1, '0.5'],
    [3, 10, '0.02'],
    [4, 40, '0.02'],
    [5, 52, '0.05'],
    [20, 520, '0.02'],
    [60, 200, '0.3'],
    [10, 10, '0.1'],
  ])('is exact for %d of %d at %s', (hits, tries, rate) => {
    const exact = asNumber(exactChance(hits, tries, rate));
    expect(Math.abs(chanceOfAtLeast(hits, tries, Number(rate)) / exact - 1)).toBeLessThan(1e-10);
  });
});
