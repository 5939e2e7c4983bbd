/**
 * A meter's own usual drift, learned from its epochs between two anchors, with uncertainty. Used only for estimates
 * outside two anchors; bounds always take the profile's greatest drift.
 *
 * Taken over from hwclock(8): nothing is learned from anchors less than 4 hours apart, and longer stretches count for
 * more. Taken over from chrony: each stretch is weighted by how well its ends are known, so one poor sample among few
 * cannot steer the result. Not taken over: hwclock's running sum of corrections (here every epoch is measured afresh
 * from its two ends, so an error never accumulates), chrony's minimum of three samples and its runs test (a meter gives
 * a handful of anchors a year); instead the estimate is drawn towards zero by a prior of 20 ppm, the make tolerance of a
 * watch crystal (common practice, no source), which counts for less with every good sample.
 */

/** Offset moves less than this from anchor to anchor teach nothing (hwclock refuses the same). */
const SHORTEST_MS = 4 * 3_600_000;
const PRIOR_SD = 20e-6;
/** The rate itself wanders: a watch crystal 5 degrees off its best temperature is 0.85 ppm slow (parabola, from memory). */
const WANDER_SD = 1e-6;

/** What is known of a meter's drift. */
export interface Drift {
  /** Offset gained a unit of wall time; positive = the clock runs fast. 1e-6 = 1 ppm = 2.6 s in 30 days. */
  readonly rate: number;
  /** Standard deviation of `rate`, its wandering with the temperature included. */
  readonly sd: number;
  /** True once at least one stretch of 4 hours or more between two anchors has been seen. */
  readonly learned: boolean;
}

interface End {
  readonly wall: number;
  readonly lo: number;
  readonly hi: number;
}

/** Running knowledge: epochs that are over, and the one at hand. Plain data. */
export interface DriftState {
  readonly weight: number;
  readonly weighted: number;
  readonly start?: End;
  readonly end?: End;
}

/** Nothing learned yet. */
export const NO_DRIFT: DriftState = { weight: 0, weighted: 0 };

function stretch(s: DriftState): { weight: number; rate: number } | undefined {
  if (!s.start || !s.end) return undefined;
  const length = s.end.wall - s.start.wall;
  if (length < SHORTEST_MS) return undefined;
  // A value known to lie evenly in an interval of width w has variance w^2 / 12.
  const variance = ((s.start.hi - s.start.lo) ** 2 + (s.end.hi - s.end.lo) ** 2) / 12;
  const rate = ((s.end.lo + s.end.hi) / 2 - (s.start.lo + s.start.hi) / 2) / length;
  return { weight: length ** 2 / Math.max(variance, 1), rate };
}

/** The epoch goes on: another anchor in it. */
export const driftAnchor = (s: DriftState, end: End): DriftState => (s.start ? { ...s, end } : { ...s, start: end });

/** The epoch is over; what it taught is kept. `next` is the first anchor of the one that follows, if there is one. */
export function driftBreak(s: DriftState, next?: End): DriftState {
  const done = stretch(s);
  const kept = done
    ? { weight: s.weight + done.weight, weighted: s.weighted + done.weight * done.rate }
    : { weight: s.weight, weighted: s.weighted };
  return next ? { ...kept, start: next } : kept;
}

/** The drift as known now. */
export function driftOf(s: DriftState): Drift {
  const now = stretch(s);
  const weight = s.weight + (now?.weight ?? 0);
  const weighted = s.weighted + (now ? now.weight * now.rate : 0);
  const prior = 1 / PRIOR_SD ** 2;
  return {
    rate: weighted / (weight + prior),
    sd: Math.sqrt(1 / (weight + prior) + WANDER_SD ** 2),
    learned: weight > 0,
  };
}
