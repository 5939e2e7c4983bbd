/**
 * Time in therapeutic range by Rosendaal's method: between two tests that are not too far apart the value is taken to move
 * on a straight line, and the time that this line spends below, in and above the range is added up.
 *
 * The figure rests on the best estimates of the times. How far it can go within their bounds is `bounds`
 * (time-in-range-bounds.ts). A value beyond the meter's range enters as the number shown; how many did is told.
 */
import type { Target } from '../facts.ts';
import type { TimeInRangeRules } from '../rules/time-in-range-rules.ts';
import { DAY_MS, type DatedPoint } from './dated-point.ts';
import { type NotCalculable, notCalculable } from './figure.ts';
import { type KeepBy, type KeptTest, type KeptTests, keepTests } from './kept-tests.ts';
import { type RangeInForce, rangesOf, sharesOf } from './ranges-in-force.ts';
import { targetsInOrder } from './target-at.ts';
import { boundsOf, type TimeInRangeBounds } from './time-in-range-bounds.ts';

export interface TimeInRange {
  readonly kind: 'known';
  readonly rules: TimeInRangeRules;
  /** Time in range of all time judged, 0 to 1. */
  readonly fraction: number;
  /** Days of 24 hours. `judged` is the sum of the other three. */
  readonly days: { readonly below: number; readonly in: number; readonly above: number; readonly judged: number };
  /** Tests that count, and the pairs of neighbours among them that do. */
  readonly tests: number;
  readonly pairs: number;
  /** What does not count. */
  readonly leftOut: KeptTests['leftOut'] & {
    /** Pairs too far apart, and the days between them. */
    readonly gaps: number;
    readonly gapDays: number;
    /** Days before the first target. */
    readonly noTargetDays: number;
  };
  /** Values that were cut down to the cap of the rules. */
  readonly capped: number;
  /** Values beyond the meter's range, taken as the number shown. */
  readonly beyond: number;
  /** How far the fraction can go within the bounds of the times. */
  readonly bounds: TimeInRangeBounds | NotCalculable;
}

/** A figure that cannot be reckoned still says with which rules. */
export type TimeInRangeOutcome = TimeInRange | (NotCalculable & { readonly rules: TimeInRangeRules });

/** Reckons time in range. Tests in order; only pairs of which both tests count are looked at. */
export function timeInRange(
  course: readonly DatedPoint[],
  targets: readonly Target[],
  rules: TimeInRangeRules,
  by: KeepBy,
): TimeInRangeOutcome {
  const kept = keepTests(course, rules, by);
  const ranges = rangesUnder(rules, targets);
  const without = whyNot(kept, ranges, rules);
  if (without) return { ...without, rules };

  const days = { below: 0, in: 0, above: 0 };
  let [pairs, gaps, gapDays, noTargetDays] = [0, 0, 0, 0];
  forEachPair(kept.tests, (a, b) => {
    const length = (b.at - a.at) / DAY_MS;
    if (b.day - a.day > rules.gapDays) {
      gaps++;
      gapDays += length;
      return;
    }
    const shares = sharesOf(a, b, ranges);
    days.below += length * shares.below;
    days.in += length * shares.in;
    days.above += length * shares.above;
    noTargetDays += length * shares.none;
    if (length > 0 && shares.none < 1) pairs++;
  });
  const judged = days.below + days.in + days.above;
  if (!(judged > 0)) return { ...nothingJudged(gaps, noTargetDays), rules };
  const fraction = days.in / judged;
  return {
    kind: 'known',
    rules,
    fraction,
    days: { ...days, judged },
    tests: kept.tests.length,
    pairs,
    leftOut: { ...kept.leftOut, gaps, gapDays, noTargetDays },
    capped: kept.capped,
    beyond: kept.tests.filter(({ isBeyond }) => isBeyond).length,
    bounds: kept.isCertain
      ? boundsOf(kept.tests, ranges, rules.gapDays, by.localDate, fraction)
      : notCalculable('tests-uncertain', 'Which tests count depends on times that are not known well enough.'),
  };
}

/** The ranges that a rule set judges by. */
const rangesUnder = (rules: TimeInRangeRules, targets: readonly Target[]): readonly RangeInForce[] =>
  rules.range === 'targets' ? rangesOf(targetsInOrder(targets)) : [{ from: Number.NEGATIVE_INFINITY, ...rules.range }];

function whyNot(
  { tests, firstDay = 0 }: KeptTests,
  ranges: readonly RangeInForce[],
  { atLeastTests, atLeastDays = 0 }: TimeInRangeRules,
): NotCalculable | undefined {
  if (tests.length < atLeastTests)
    return notCalculable('too-few-tests', `At least ${atLeastTests} tests are needed; ${tests.length} count.`);
  if (ranges.length === 0) return notCalculable('no-target', 'No target range is known.');
  const spanned = (tests.at(-1)?.day ?? 0) - firstDay;
  if (spanned < atLeastDays)
    return notCalculable('too-short', `Tests span ${spanned} days that count; ${atLeastDays} are needed.`);
  return undefined;
}

function nothingJudged(gaps: number, noTargetDays: number): NotCalculable {
  if (noTargetDays > 0) return notCalculable('no-target', 'All tests were made before the first target.');
  return gaps > 0
    ? notCalculable('only-gaps', 'All tests lie too far apart.')
    : notCalculable('no-spread-in-time', 'All tests were made at the same time.');
}

function forEachPair(tests: readonly KeptTest[], visit: (a: KeptTest, b: KeptTest) => void): void {
  tests.forEach((b, i) => {
    const a = tests[i - 1];
    if (a) visit(a, b);
  });
}
