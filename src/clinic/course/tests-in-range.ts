/** The fraction of tests in range: a count of tests, not of time. */
import { type Figure, known, notCalculable } from './figure.ts';
import type { Judgement } from './standing.ts';

export interface TestsInRange {
  /** Tests made while a target was in force, and where they stood against it alone. */
  readonly judged: number;
  readonly below: number;
  readonly in: number;
  readonly above: number;
  /** Tests before the first target. */
  readonly noTarget: number;
  /** Critical tests, whether or not there was a target. */
  readonly criticalLow: number;
  readonly criticalHigh: number;
  /** Tests whose standing is not certain; they are counted above as most critical. */
  readonly uncertain: number;
  /** `in` of `judged`, 0 to 1. */
  readonly fraction: Figure;
}

/** Counts judged tests. */
export function testsInRange(judgements: readonly Judgement[]): TestsInRange {
  const places = { below: 0, in: 0, above: 0, 'no-target': 0 };
  let [criticalLow, criticalHigh, uncertain] = [0, 0, 0];
  for (const { position, standing, isCertain } of judgements) {
    places[position]++;
    if (standing === 'critical-low') criticalLow++;
    if (standing === 'critical-high') criticalHigh++;
    if (!isCertain) uncertain++;
  }
  const { below, in: inside, above, 'no-target': noTarget } = places;
  const judged = below + inside + above;
  return {
    judged,
    below,
    in: inside,
    above,
    noTarget,
    criticalLow,
    criticalHigh,
    uncertain,
    fraction:
      judged > 0
        ? known(inside / judged)
        : judgements.length > 0
          ? notCalculable('no-target', 'No test was made while a target range was in force.')
          : notCalculable('too-few-tests', 'There are no tests.'),
  };
}
