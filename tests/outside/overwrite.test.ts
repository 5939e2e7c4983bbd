/**
 * The forecast's wait a second way. With a gamma distributed rate the number of further tests within w days is negative
 * binomial (Gelman and others, Bayesian Data Analysis, section 2.6; from memory): its probabilities are summed term by
 * term, each from the one before, without the beta distribution.
 */
import { expect, it } from 'vitest';
import { waitBefore } from '../../src/clinic/meters/overwrite.ts';

/** Chance of at least `further` tests in `wait` days after `tests` tests in `days` days. */
function chanceOf(tests: number, days: number, further: number, wait: number): number {
  const shape = tests + 0.5;
  const stay = days / (days + wait);
  let term = stay ** shape;
  let fewer = 0;
  for (let k = 0; k < further; k++) {
    fewer += term;
    term *= ((shape + k) / (k + 1)) * (1 - stay);
  }
  return 1 - fewer;
}

it.each([
  [12, 90, 201],
  [0, 30, 5],
  [1, 3, 1],
  [300, 90, 201],
  [45, 10, 201],
])('after %s tests in %s days, %s more come that soon only with the chance asked for', (tests, days, further) => {
  for (const chance of [0.05, 0.5, 0.01]) {
    const wait = waitBefore({ tests, days, clumping: 1 }, further, chance);
    expect(chanceOf(tests, days, further, wait)).toBeCloseTo(chance, 10);
  }
});
