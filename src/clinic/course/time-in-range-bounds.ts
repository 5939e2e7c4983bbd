/**
 * How far time in range can go when every test may lie anywhere within the bounds of its time, in the order of the best
 * estimates.
 *
 * Between two tests the parts of the line below, in and above a range that does not change depend on the two values only,
 * so the fraction is a sum of lengths over a sum of lengths. Its greatest value is found as the root of a convex function
 * (Dinkelbach, Management Science 1967;13:492, from memory), each step of which is a linear programme over a chain of
 * ordered times (ordered-times.ts); its least value is one less the greatest fraction of time out of range.
 *
 * Promised: the true fraction lies within, whatever the times, provided that it can be reckoned at all. The two ends are
 * reached (`isExact`) unless
 * - two tests may or may not lie too far apart to count: such a pair counts at each end as it suits that end;
 * - a target may have changed between two tests of uncertain times: each such change widens the result by no more than the
 *   time that is uncertain around it.
 */
import { instant } from '../../core/instant.ts';
import type { LocalDate } from '../facts.ts';
import { DAY_MS, dayOf } from './dated-point.ts';
import type { KeptTest } from './kept-tests.ts';
import { type Boxes, orderedTimes } from './ordered-times.ts';
import { type RangeInForce, sharesOf } from './ranges-in-force.ts';

export interface TimeInRangeBounds {
  readonly kind: 'known';
  /** The fraction is at least this. */
  readonly low: number;
  /** And at most this. */
  readonly high: number;
  /** True where both can be reached. */
  readonly isExact: boolean;
}

/** What two neighbours contribute. */
interface Pair {
  /**
   * Parts of its length in range, out of range, and judged at all, at the best estimates. Where changes of target leave too
   * much open all three are 1: any part may be in range, any may be out.
   */
  readonly inside: number;
  readonly outside: number;
  readonly judged: number;
  /** Whether it is short enough to count. */
  readonly counts: 'always' | 'maybe' | 'never';
  /** The greatest length with which it can count, ms. */
  readonly cut: number;
}

/** Bounds of the fraction, which holds for the best estimates. */
export function boundsOf(
  tests: readonly KeptTest[],
  ranges: readonly RangeInForce[],
  gapDays: number,
  localDate: LocalDate,
  fraction: number,
): TimeInRangeBounds {
  const boxes = boxesOf(tests, ranges, gapDays);
  const { pairs, slackMs, isExact } = pairsOf(tests, ranges, boxes, gapDays, localDate);
  return {
    kind: 'known',
    low: Math.min(fraction, 1 - greatest('outside', pairs, boxes, slackMs, 1 - fraction)),
    high: greatest('inside', pairs, boxes, slackMs, fraction),
    isExact,
  };
}

/** Longer than any pair that counts, whatever the zone does in between. */
const tooLongMs = (gapDays: number): number => (gapDays + 2) * DAY_MS;

/**
 * Bounds that take the order into account. An open bound is put so far away that every test may lie too far from the next
 * one to count, and all of them before the first target or after the last: farther makes no difference.
 */
function boxesOf(tests: readonly KeptTest[], ranges: readonly RangeInForce[], gapDays: number): Boxes {
  const step = tooLongMs(gapDays);
  const changes = ranges.map(({ from }) => from).filter(Number.isFinite);
  const n = tests.length;
  const low = new Float64Array(n);
  const high = new Float64Array(n);
  tests.forEach(({ earliest, latest }, i) => {
    low[i] = earliest;
    high[i] = latest;
  });
  for (let i = 1; i < n; i++) low[i] = Math.max(low[i] ?? 0, low[i - 1] ?? 0);
  for (let i = n - 2; i >= 0; i--) high[i] = Math.min(high[i] ?? 0, high[i + 1] ?? 0);
  const opening = low.lastIndexOf(Number.NEGATIVE_INFINITY);
  const bottom = Math.min(tests[0]?.at ?? 0, low[opening + 1] ?? Number.POSITIVE_INFINITY, ...changes);
  for (let i = opening; i >= 0; i--) low[i] = bottom - (opening + 1 - i) * step;
  const closing = high.indexOf(Number.POSITIVE_INFINITY);
  if (closing >= 0) {
    const top = Math.max(low[n - 1] ?? 0, high[closing - 1] ?? Number.NEGATIVE_INFINITY, ...changes);
    for (let i = closing; i < n; i++) high[i] = top + (i + 1 - closing) * step;
  }
  return { low, high };
}

function pairsOf(
  tests: readonly KeptTest[],
  ranges: readonly RangeInForce[],
  { low, high }: Boxes,
  gapDays: number,
  localDate: LocalDate,
): { pairs: Pair[]; slackMs: number; isExact: boolean } {
  const pairs: Pair[] = [];
  let slackMs = 0;
  let isExact = true;
  for (let i = 0; i + 1 < tests.length; i++) {
    const [a, b] = [tests[i], tests[i + 1]];
    if (!a || !b) continue;
    const [aLow, aHigh, bLow, bHigh] = [low[i] ?? 0, high[i] ?? 0, low[i + 1] ?? 0, high[i + 1] ?? 0];
    const isWithin = (from: number, to: number): boolean => isWithinGap(from, to, gapDays, localDate);
    const counts = isWithin(aLow, bHigh) ? 'always' : isWithin(Math.min(aHigh, bLow), bLow) ? 'maybe' : 'never';
    const shares = sharesOf(a, b, ranges);
    const longest = tooLongMs(gapDays);
    const cut = Math.min(bHigh - aLow, longest);
    // Where it counts, its ends are not farther from each other than that.
    const slack =
      counts === 'never'
        ? 0
        : slackOf(a, b, ranges, {
            aLow: Math.max(aLow, bLow - longest),
            aHigh,
            bLow,
            bHigh: Math.min(bHigh, aHigh + longest),
          });
    if (slack > 0 || counts === 'maybe') isExact = false;
    if (slack >= cut) pairs.push({ inside: 1, outside: 1, judged: 1, counts, cut });
    else {
      pairs.push({ inside: shares.in, outside: shares.below + shares.above, judged: 1 - shares.none, counts, cut });
      slackMs += slack;
    }
  }
  return { pairs, slackMs, isExact };
}

/**
 * How much more or less of a pair can be in range because targets change between its ends, than the same part of its
 * length as at the best estimates. When the ends move, the place on the line at which a target changes moves by so much,
 * and no more of the line passes from one range to the other.
 */
function slackOf(
  a: KeptTest,
  b: KeptTest,
  ranges: readonly RangeInForce[],
  { aLow, aHigh, bLow, bHigh }: { aLow: number; aHigh: number; bLow: number; bHigh: number },
): number {
  let slack = 0;
  for (const { from } of ranges) {
    if (from <= Math.min(aLow, a.at) || from >= Math.max(bHigh, b.at)) continue;
    // Where on the line the change lies at the best estimates, 0 to 1.
    const u = b.at > a.at ? Math.min(1, Math.max(0, (from - a.at) / (b.at - a.at))) : from <= a.at ? 0 : 1;
    const later = (1 - u) * (aHigh - a.at) + u * (bHigh - b.at);
    const earlier = (1 - u) * (a.at - aLow) + u * (b.at - bLow);
    slack += Math.max(later, earlier);
  }
  return slack;
}

function isWithinGap(from: number, to: number, gapDays: number, localDate: LocalDate): boolean {
  // Dates are asked for only where they can matter: they take most of the time otherwise.
  if (to - from < (gapDays - 2) * DAY_MS) return true;
  if (to - from > tooLongMs(gapDays)) return false;
  return dayOf(localDate(instant(to))) - dayOf(localDate(instant(from))) <= gapDays;
}

/** More steps than are ever needed; a result that has not settled by then is given up for the widest. */
const MOST_STEPS = 60;
/** A step smaller than this is rounding. */
const SETTLED = 1e-13;

/** The greatest fraction of the time judged that is inside or outside of the range, from one that can be reached. */
function greatest(
  side: 'inside' | 'outside',
  pairs: readonly Pair[],
  boxes: Boxes,
  slackMs: number,
  reached: number,
): number {
  const worth = new Float64Array(pairs.length);
  let fraction = reached;
  for (let step = 0; step < MOST_STEPS; step++) {
    pairs.forEach((pair, i) => {
      const each = pair[side] - fraction * pair.judged;
      const isFixed = pair.counts === 'maybe' && (each <= 0 || pair.cut < spanOf(boxes, i));
      worth[i] = pair.counts === 'never' || isFixed ? 0 : each;
    });
    const times = orderedTimes(boxes, worth);
    let surplus = slackMs;
    let judgedMs = 0;
    pairs.forEach((pair, i) => {
      const each = pair[side] - fraction * pair.judged;
      if (pair.counts === 'never' || (pair.counts === 'maybe' && each <= 0)) return;
      const isCut = pair.cut < spanOf(boxes, i);
      const length = isCut ? pair.cut : (times[i + 1] ?? 0) - (times[i] ?? 0);
      surplus += each * length;
      judgedMs += pair.judged * length;
    });
    // Newton's step on a convex, falling function: it never goes past the root.
    const next = surplus > 0 ? Math.min(1, fraction + surplus / judgedMs) : fraction;
    if (next - fraction < SETTLED) return next;
    fraction = next;
  }
  return 1;
}

/** The greatest length of the pair that begins with test i. */
const spanOf = ({ low, high }: Boxes, i: number): number => (high[i + 1] ?? 0) - (low[i] ?? 0);
