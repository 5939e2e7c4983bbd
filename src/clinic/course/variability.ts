/**
 * How much a person's values vary. Values beyond the meter's range enter as the number shown, so with them every figure
 * here is rather too small.
 *
 * Variance growth rate: Fihn et al., Ann Intern Med 1996;124:970, and Ibrahim et al., J Thromb Haemost 2013
 * (doi 10.1111/jth.12322), methods A and B1. The formulas are from memory. Intervals are counted in local dates, with
 * the last test of each date: a repeat minutes later would weigh more than a year of tests otherwise.
 */
import type { Target } from '../facts.ts';
import { mean, standardDeviation } from '../statistics/descriptive.ts';
import { type DatedPoint, lastOfEachDate } from './dated-point.ts';
import { type Figure, known, type NotCalculable, notCalculable } from './figure.ts';
import { targetAt } from './target-at.ts';

export interface Variability {
  readonly tests: number;
  /** Tests beyond the meter's range among them. */
  readonly beyond: number;
  readonly mean: Figure;
  /** Standard deviation (n − 1), in the unit of the values. */
  readonly sd: Figure;
  /** The same as a fraction of the mean. */
  readonly cv: Figure;
  /** Mean of (value − middle of the target in force)² / weeks since the test before. Control and variability together. */
  readonly growthA: Figure;
  /** Mean of (value − value before)² / weeks between. Variability alone. */
  readonly growthB1: Figure;
  readonly largestChange: LargestChange | NotCalculable;
}

/** The steepest way from one test to the next. */
export interface LargestChange {
  readonly kind: 'known';
  /** Change for each week, signed; of equally steep ones the latest. */
  readonly perWeek: number;
  /** The change itself, and over how many local dates. */
  readonly change: number;
  readonly days: number;
  /** Ids of the two tests. */
  readonly from: string;
  readonly to: string;
}

const TOO_FEW = notCalculable('too-few-tests', 'Tests on at least two dates are needed.');

/** Variability of tests in order. Targets in order of their moments. */
export function variability(tests: readonly DatedPoint[], targets: readonly Target[]): Variability {
  const values = tests.map(({ value }) => value);
  const average = mean(values);
  const sd = standardDeviation(values);
  const steps = stepsOf(lastOfEachDate(tests));
  const distances: number[] = [];
  for (const { to, weeks } of steps) {
    const target = targetAt(targets, to.time.at);
    if (target) distances.push((to.value - (target.low + target.high) / 2) ** 2 / weeks);
  }
  return {
    tests: tests.length,
    beyond: tests.filter(({ beyond }) => beyond !== undefined).length,
    mean: tests.length > 0 ? known(average) : notCalculable('too-few-tests', 'There are no tests.'),
    sd: tests.length > 1 ? known(sd) : notCalculable('too-few-tests', 'At least two tests are needed.'),
    cv: coefficient(tests.length, average, sd),
    growthA:
      distances.length > 0
        ? known(mean(distances))
        : steps.length > 0
          ? notCalculable('no-target', 'No test was made while a target range was in force.')
          : TOO_FEW,
    growthB1: steps.length > 0 ? known(mean(steps.map(({ change, weeks }) => change ** 2 / weeks))) : TOO_FEW,
    largestChange: largest(steps),
  };
}

function coefficient(tests: number, average: number, sd: number): Figure {
  if (tests < 2) return notCalculable('too-few-tests', 'At least two tests are needed.');
  return average === 0 ? notCalculable('zero-mean', 'The mean is zero.') : known(sd / average);
}

interface Step {
  readonly from: DatedPoint;
  readonly to: DatedPoint;
  readonly change: number;
  readonly weeks: number;
}

function stepsOf(tests: readonly DatedPoint[]): Step[] {
  const steps: Step[] = [];
  let from: DatedPoint | undefined;
  for (const to of tests) {
    if (from) steps.push({ from, to, change: to.value - from.value, weeks: (to.day - from.day) / 7 });
    from = to;
  }
  return steps;
}

function largest(steps: readonly Step[]): LargestChange | NotCalculable {
  const [first, ...others] = steps;
  if (!first) return TOO_FEW;
  const steepness = ({ change, weeks }: Step): number => Math.abs(change) / weeks;
  const { from, to, change, weeks } = others.reduce((a, b) => (steepness(b) >= steepness(a) ? b : a), first);
  return { kind: 'known', perWeek: change / weeks, change, days: to.day - from.day, from: from.id, to: to.id };
}
