/**
 * Placing: when each test was really made. Takes a meter's history, gives every test an estimate with bounds and a
 * reason, the incidents of the clock, and the meter's usual drift. Pure; see costs.ts for what is assumed, stories.ts
 * for how the bounds come about.
 */
import { instant } from '../core/instant.ts';
import type { Incident, Placement } from '../core/placement.ts';
import { type Anchor, type Gap, gapsOf, meet, type Span, widen } from './anchors.ts';
import { displayed, localEstimate } from './displayed.ts';
import { type Drift, type DriftState, driftAnchor, driftBreak, driftOf, NO_DRIFT } from './drift.ts';
import { fastDriftIncidents } from './fast-drift.ts';
import { chainOf, type GapEnds, type GapReport, type GapTimes, timesInGap } from './gap-times.ts';
import type { ClockHistory, ClockTest } from './history.ts';
import { incidentsOf } from './incidents.ts';
import { reasonOf } from './sentences.ts';
import { certainChanges } from './stories.ts';

export interface PlacedTest {
  readonly id: string;
  readonly placement: Placement;
  /** Index of the gap it lies in, in `gaps`; absent for a test that is only displayed. */
  readonly gap?: number;
}

export interface PlaceResult {
  /** One for each test of the history, in its order. */
  readonly tests: readonly PlacedTest[];
  readonly incidents: readonly Incident[];
  readonly drift: Drift;
  readonly gaps: readonly GapReport[];
}

/** Places every test of a history. Never fails: what cannot be known has open bounds or a wide span and says so. */
export function place(history: ClockHistory): PlaceResult {
  const gaps = gapsOf(history);
  if (!gaps.some((g) => g.first || g.last)) {
    return { tests: displayed(history), incidents: [], drift: driftOf(NO_DRIFT), gaps: [] };
  }
  const rate = (history.habits.driftPpm * 1e-6) / (1 - history.habits.driftPpm * 1e-6);
  const unchanged = tighten(gaps, history, rate);
  let drift: DriftState = NO_DRIFT;
  const reports: GapReport[] = [];
  const incidents: Incident[] = [];
  gaps.forEach((gap, i) => {
    const u = unchanged[i];
    const ends: GapEnds = {
      ...(u?.first ? { first: u.first } : {}),
      ...(u?.last ? { last: u.last } : {}),
      usualDrift: driftOf(drift).rate,
    };
    const times = timesOf(gap, ends, history, u?.keeps === true);
    reports.push({ gap, ends, times });
    drift = learn(drift, gap, ends, u?.keeps === true);
    const zone = gap.zones.at(-1) ?? history.zone;
    incidents.push(...incidentsOf(times.changes, zone));
  });
  return {
    tests: placements(reports, history),
    incidents: fastDriftIncidents(reports, incidents, history.habits.driftPpm),
    drift: driftOf(drift),
    gaps: reports,
  };
}

interface Tight {
  first?: Span;
  last?: Span;
  /** True where nothing calls for a change between the two anchors. */
  keeps: boolean;
}

/**
 * The offsets at both ends of every gap, tightened along runs of gaps in which nothing calls for a change: one pass
 * forwards, one backwards, which is exact for intervals along a path.
 */
function tighten(gaps: readonly Gap[], history: ClockHistory, rate: number): Tight[] {
  const out: Tight[] = [];
  let reach: Span | undefined; // what the gaps so far leave of the offset at the anchor at hand
  let at: Anchor | undefined;
  for (const gap of gaps) {
    const first = gap.first ? (gap.first === at && reach ? reach : gap.first.offset) : undefined;
    const t: Tight = { ...(first ? { first } : {}), ...(gap.last ? { last: gap.last.offset } : {}), keeps: false };
    if (gap.first && gap.last && first) {
      const play = playOf(gap.first, gap.last, rate);
      const { chain } = chainOf(gap, { first, last: gap.last.offset, usualDrift: 0 }, history.habits);
      const common = meet(widen(first, play), gap.last.offset);
      t.keeps = common.lo <= common.hi && !gap.first.alternative && !certainChanges(chain.stamps).change.includes(true);
      if (t.keeps) t.last = common;
    }
    at = gap.last;
    reach = t.last;
    out.push(t);
  }
  for (let i = out.length - 2; i >= 0; i--) {
    const here = out[i];
    const next = out[i + 1];
    const gap = gaps[i];
    const follows = gaps[i + 1];
    if (!here || !next || !gap?.last || follows?.first !== gap.last || !next.first) continue;
    if (next.keeps && follows.last && next.last)
      next.first = meet(next.first, widen(next.last, playOf(gap.last, follows.last, rate)));
    here.last = next.first;
    if (here.keeps && here.first && gap.first)
      here.first = meet(here.first, widen(here.last, playOf(gap.first, gap.last, rate)));
  }
  const head = out[0];
  if (head?.keeps && head.first && head.last && gaps[0]?.first && gaps[0].last) {
    head.first = meet(head.first, widen(head.last, playOf(gaps[0].first, gaps[0].last, rate)));
  }
  return out;
}

const playOf = (a: Anchor, b: Anchor, rate: number): number => rate * (Math.max(0, b.wall - a.wall) + b.resolutionMs);

/** The times in a gap. Where the gateway tried to set the clock and got no answer, both outcomes are followed. */
function timesOf(gap: Gap, ends: GapEnds, history: ClockHistory, keeps: boolean): GapTimes {
  const main = timesInGap(gap, ends, history.habits);
  const other = gap.first?.alternative;
  if (!other || keeps) return main;
  const set = timesInGap(gap, { ...ends, first: other }, history.habits);
  const [better, worse] = set.cost < main.cost ? [set, main] : [main, set];
  if (worse.cost > better.cost + 3 || worse.overflow) return better;
  return {
    ...better,
    tests: better.tests.map((t, i) => {
      const w = worse.tests[i];
      return t && w ? { ...t, earliest: Math.min(t.earliest, w.earliest), latest: Math.max(t.latest, w.latest) } : t;
    }),
  };
}

function learn(s: DriftState, gap: Gap, ends: GapEnds, keeps: boolean): DriftState {
  const end = gap.last && ends.last ? { wall: gap.last.wall, ...ends.last } : undefined;
  if (!keeps) return driftBreak(s, end);
  const begun = s.start || !gap.first || !ends.first ? s : driftAnchor(s, { wall: gap.first.wall, ...ends.first });
  return end ? driftAnchor(begun, end) : begun;
}

interface Draft {
  test: ClockTest;
  gap: number;
  lo: number;
  hi: number;
  estimate: number | undefined;
}

/** Bounds, estimates and reasons of all tests: the order of the tests tightens what the gaps found. */
function placements(reports: readonly GapReport[], history: ClockHistory): PlacedTest[] {
  const drafts: Draft[] = reports.flatMap((r, gap) =>
    r.gap.tests.map((test, i) => {
      const t = r.times.tests[i];
      const floor = r.gap.notBefore[i] ?? Number.NEGATIVE_INFINITY;
      const ceiling = Math.min(test.toldBy, r.gap.last?.at.hi ?? test.toldBy);
      const lo = Math.max(t?.earliest ?? floor, floor, r.gap.first?.at.lo ?? floor);
      const hi = Math.min(t?.latest ?? ceiling, ceiling);
      return lo <= hi
        ? { test, gap, lo, hi, estimate: t?.estimate }
        : { test, gap, lo: Math.min(floor, ceiling), hi: ceiling, estimate: undefined };
    }),
  );
  inOrder(drafts);
  let latest = Number.NEGATIVE_INFINITY;
  let k = 0;
  return reports.flatMap((r, g) =>
    r.gap.tests.map((test, i) => {
      const d = drafts[k++] as Draft;
      const t = r.times.tests[i];
      const loose = !t || t.place === 'loose' || d.estimate === undefined;
      const local = loose ? localEstimate(test, r.gap.zones.at(-1) ?? history.zone, d.lo, d.hi) : undefined;
      const guess = loose ? (local ?? (Number.isFinite(d.lo) ? (d.lo + d.hi) / 2 : undefined)) : d.estimate;
      const estimate = guess === undefined ? undefined : Math.min(d.hi, Math.max(d.lo, guess, latest));
      if (estimate !== undefined) latest = estimate;
      const placement: Placement = {
        ...(estimate === undefined ? {} : { takenAt: instant(Math.round(estimate)) }),
        ...(Number.isFinite(d.lo) ? { earliest: instant(Math.floor(d.lo)) } : {}),
        latest: instant(Math.ceil(d.hi)),
        basis: loose ? 'bounded' : t.place === 'between' ? 'interpolated' : 'anchored',
        reason: reasonOf(loose ? 'loose' : t.place, r.gap, r.ends, t?.began, r.times.changes.length > 0),
        flags: [],
      };
      return { id: test.id, placement, gap: g };
    }),
  );
}

/** A later test was not made earlier: bounds are carried along the order, as far as they do not contradict each other. */
function inOrder(drafts: Draft[]): void {
  let lo = Number.NEGATIVE_INFINITY;
  for (const d of drafts) {
    if (lo > d.lo && lo <= d.hi) d.lo = lo;
    lo = Math.max(lo, d.lo);
  }
  let hi = Number.POSITIVE_INFINITY;
  for (let i = drafts.length - 1; i >= 0; i--) {
    const d = drafts[i];
    if (!d) continue;
    if (hi < d.hi && hi >= d.lo) d.hi = hi;
    hi = Math.min(hi, d.hi);
  }
}
