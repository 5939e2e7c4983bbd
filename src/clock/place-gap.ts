/**
 * One gap from end to end: the placements of its tests and the incidents in it. A gap depends on its neighbours only
 * through the offsets at its ends and the drift learned before it, so a new download never moves the far past.
 */
import { instant } from '../core/instant.ts';
import type { Incident, Placement, TimeBasis } from '../core/placement.ts';
import { type Gap, middle } from './anchors.ts';
import type { ChangeKind } from './costs.ts';
import { MARGIN } from './costs.ts';
import { localEstimate } from './displayed.ts';
import { type EpochPlace, type GapEnds, type GapReport, timesInGap } from './gap-times.ts';
import type { ClockHabits } from './history.ts';
import { incidentsOf } from './incidents.ts';
import { reasonOf } from './sentences.ts';

export interface PlacedTest {
  readonly id: string;
  readonly placement: Placement;
}

/**
 * The times in a gap. Where the gateway tried to set the clock and got no answer, both outcomes are followed: the report
 * is that of the likelier one, the bounds cover both unless one is out of the question.
 */
export function followGap(gap: Gap, ends: GapEnds, habits: ClockHabits): GapReport {
  const main = { gap, ends, times: timesInGap(gap, ends, habits) };
  const other = gap.first?.alternative;
  if (!gap.first || !other) return main;
  const gapIfSet = { ...gap, first: { ...gap.first, ...other } };
  const endsIfSet = { ...ends, first: other.offset };
  const set = { gap: gapIfSet, ends: endsIfSet, times: timesInGap(gapIfSet, endsIfSet, habits) };
  const [better, worse] = set.times.cost < main.times.cost ? [set, main] : [main, set];
  if (worse.times.overflow || worse.times.cost > better.times.cost + MARGIN) return better;
  const tests = better.times.tests.map((t, i) => {
    const w = worse.times.tests[i];
    return t && w ? { ...t, earliest: Math.min(t.earliest, w.earliest), latest: Math.max(t.latest, w.latest) } : t;
  });
  return { ...better, times: { ...better.times, tests } };
}

/** The incidents of a gap. */
export function gapIncidents({ gap, times }: GapReport): Incident[] {
  return incidentsOf(times.changes, gap.zone);
}

/** The placements of a gap's tests: what the stories left, tightened by the order of the tests. */
export function placeGap({ gap, ends, times }: GapReport): PlacedTest[] {
  const spans = gap.tests.map((test, i) => {
    const t = times.tests[i];
    const floor = Math.max(gap.notBefore[i] as number, gap.first?.at.lo ?? Number.NEGATIVE_INFINITY);
    const ceiling = Math.min(test.toldBy, gap.last?.at.hi ?? test.toldBy);
    const lo = Math.max(t?.earliest ?? floor, floor);
    const hi = Math.min(t?.latest ?? ceiling, ceiling);
    return lo <= hi ? { test, t, lo, hi } : { test, t: undefined, lo: Math.min(floor, ceiling), hi: ceiling };
  });
  carryAlong(spans);
  const reason = reasons({ gap, ends, times });
  // Tests before a download are put before the middle of its anchor, tests after it behind, so that estimates of
  // neighbouring gaps never cross.
  let latest = gap.first ? middle(gap.first.at) : Number.NEGATIVE_INFINITY;
  const stop = gap.last ? middle(gap.last.at) : Number.POSITIVE_INFINITY;
  return spans.map(({ test, t, lo, hi }) => {
    const loose = !t || t.place === 'loose';
    const asLocal = loose ? localEstimate(test, gap.zone, lo, hi) : undefined;
    const guess = loose ? (asLocal ?? (Number.isFinite(lo) ? (lo + hi) / 2 : undefined)) : t.estimate;
    const estimate =
      guess === undefined ? undefined : Math.min(hi, Math.max(lo, Math.min(stop, Math.max(guess, latest))));
    if (estimate !== undefined) latest = Math.max(latest, estimate);
    const basis = loose ? 'bounded' : t.place === 'between' ? 'interpolated' : 'anchored';
    const placement = placementOf(estimate, lo, hi, basis, reason(loose ? 'loose' : t.place, t?.began));
    return { id: test.id, placement };
  });
}

/** Estimate and bounds (ms), rounded so that no bound cuts off the truth; absent where unknown: both, or the lower one. */
function placementOf(
  estimate: number | undefined,
  lo: number,
  hi: number,
  basis: TimeBasis,
  reason: string,
): Placement {
  const latest = instant(Math.ceil(hi));
  if (estimate === undefined) return { latest, basis, reason, flags: [] };
  const takenAt = instant(Math.round(estimate));
  if (!Number.isFinite(lo)) return { takenAt, latest, basis, reason, flags: [] };
  return { takenAt, earliest: instant(Math.floor(lo)), latest, basis, reason, flags: [] };
}

/** One sentence serves every test of a gap that lies in the same kind of epoch. */
function reasons({ gap, ends, times }: GapReport): (place: EpochPlace, began: ChangeKind | undefined) => string {
  const known = new Map<string, string>();
  return (place, began) => {
    const key = `${place} ${began}`;
    const sentence = known.get(key) ?? reasonOf(place, gap, ends, began, times.changes.length > 0);
    known.set(key, sentence);
    return sentence;
  };
}

/** A later test was not made earlier: bounds are carried along the order, as far as they do not contradict each other. */
function carryAlong(spans: { lo: number; hi: number }[]): void {
  let lo = Number.NEGATIVE_INFINITY;
  for (const s of spans) {
    if (lo <= s.hi) s.lo = Math.max(lo, s.lo);
    lo = Math.max(lo, s.lo);
  }
  let hi = Number.POSITIVE_INFINITY;
  for (const s of spans.toReversed()) {
    if (hi >= s.lo) s.hi = Math.min(hi, s.hi);
    hi = Math.min(hi, s.hi);
  }
}
