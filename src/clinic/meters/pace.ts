/** How fast a meter is used, from the tests that are known of it. */
import type { Instant } from '../../core/instant.ts';
import { mean, standardDeviation } from '../statistics/descriptive.ts';

/** Tests over a stretch of time. */
export interface Pace {
  readonly tests: number;
  readonly days: number;
  /**
   * How much more the numbers of tests vary from week to week (or day to day, in short stretches) than chance alone would
   * make them: variance over mean, at least 1. A forecast counts a meter that is used in clumps as having been watched
   * for so much less.
   */
  readonly clumping: number;
}

const DAY = 86_400_000;
/** Fewer whole stretches say nothing of how much they vary. */
const FEWEST_STRETCHES = 6;

/**
 * The pace over the last `windowDays` before `until`; where the meter's first known test lies within them, from that test
 * on (it opens the stretch and is not counted). Undefined where less than a day is known.
 */
export function paceOf(tests: readonly Instant[], until: Instant, windowDays: number): Pace | undefined {
  const known = tests.filter((t) => t <= until).sort((a, b) => a - b);
  const [first] = known;
  if (first === undefined) return undefined;
  const from = Math.max(first, until - windowDays * DAY);
  const days = (until - from) / DAY;
  if (days < 1) return undefined;
  const counted = known.filter((t) => t > from);
  return { tests: counted.length, days, clumping: clumping(counted, until, days) };
}

function clumping(tests: readonly Instant[], until: Instant, days: number): number {
  const stretch = days >= FEWEST_STRETCHES * 7 ? 7 : 1;
  const counts = new Array<number>(Math.floor(days / stretch)).fill(0);
  if (counts.length < FEWEST_STRETCHES) return 1;
  for (const test of tests) {
    const place = Math.floor((until - test) / (stretch * DAY));
    const count = counts[place];
    if (count !== undefined) counts[place] = count + 1;
  }
  const usual = mean(counts);
  return usual === 0 ? 1 : Math.max(1, standardDeviation(counts) ** 2 / usual);
}
