/**
 * Placing: when each test was really made. Takes a meter's history, gives every test an estimate with bounds and a
 * reason, the incidents of the clock, and the meter's usual drift. Pure; see costs.ts for what is assumed, stories.ts
 * for how the bounds come about.
 *
 * A history may begin at a checkpoint: a download before which nothing changes any more. The result is the same as
 * that of the whole history as long as `atStart` is what it was when the checkpoint was made.
 */
import type { Incident } from '../core/placement.ts';
import { type Gap, gapsOf, type Span } from './anchors.ts';
import { displayed } from './displayed.ts';
import { type Drift, type DriftState, driftAnchor, driftBreak, driftOf, NO_DRIFT } from './drift.ts';
import { fastDrift, rateOf } from './fast-drift.ts';
import type { GapEnds, GapReport } from './gap-times.ts';
import type { ClockHistory } from './history.ts';
import { reachBack } from './in-use.ts';
import { followGap, gapIncidents, type PlacedTest, placeGap } from './place-gap.ts';
import { type TightEnds, tighten } from './tighten.ts';

/** A download from which placing can go on. Plain data that survives JSON. */
export interface Checkpoint {
  /** Id of the download whose last anchor ends a gap. */
  readonly readout: string;
  /** The offset there as the downloads up to it leave it. */
  readonly reach: Span;
  /** The same with what later downloads add. */
  readonly tight: Span;
  readonly drift: DriftState;
  /** Drift of the gap before, ppm, where that gap may be one of fast drift. */
  readonly rateBefore?: number;
  /** Incidents found before it. */
  readonly incidents: number;
}

export interface PlaceResult {
  /** One for each test of the history, in its order. */
  readonly tests: readonly PlacedTest[];
  readonly incidents: readonly Incident[];
  readonly drift: Drift;
  /** For `explain` and pictures. */
  readonly gaps: readonly GapReport[];
  readonly checkpoints: readonly Checkpoint[];
  /** The offset at the checkpoint that the history began with, after this history. */
  readonly atStart?: Span;
}

/** Places every test of a history. Never fails: what cannot be known has open bounds or a wide span and says so. */
export function place(history: ClockHistory, start?: Checkpoint): PlaceResult {
  const gaps = reachBack(gapsOf(history));
  let drift: DriftState = start?.drift ?? NO_DRIFT;
  if (!gaps.some((g) => g.first || g.last)) {
    return { tests: displayed(history), incidents: [], drift: driftOf(drift), gaps: [], checkpoints: [] };
  }
  const tight = tighten(gaps, history.habits, start?.reach);
  const before: DriftState[] = [];
  const reports = gaps.map((gap, i): GapReport => {
    const t = tight[i] as TightEnds;
    const previous = gaps[i - 1];
    // A clock that the gateway set starts a new stretch: what came before teaches nothing about it.
    if (previous && previous.last !== gap.first) drift = driftBreak(drift);
    before.push(drift);
    const ends: GapEnds = {
      ...(t.first ? { first: t.first } : {}),
      ...(t.last ? { last: t.last } : {}),
      usualDrift: driftOf(drift).rate,
    };
    drift = learn(drift, gap, t);
    return followGap(gap, ends, history.habits);
  });
  const rates = reports.map((r) => rateOf(r, history.habits.driftPpm));
  const incidents: Incident[] = [];
  const checkpoints: Checkpoint[] = [];
  reports.forEach((report, i) => {
    const { first, last } = gaps[i] as Gap;
    const previous = gaps[i - 1];
    const rateBefore = i === 0 ? start?.rateBefore : rates[i - 1];
    // Not where a download shows two clocks by itself: it cannot be cut in the middle.
    if (first && previous && previous.first?.readout !== first.readout && first.readout !== last?.readout) {
      const t = tight[i] as TightEnds;
      checkpoints.push({
        readout: first.readout,
        reach: t.reach ?? first.offset,
        tight: t.first ?? first.offset,
        drift: before[i] as DriftState,
        ...(rateBefore === undefined ? {} : { rateBefore }),
        incidents: (start?.incidents ?? 0) + incidents.length,
      });
    }
    incidents.push(
      ...fastDrift(report, gapIncidents(report), rates[i], rateBefore, rates[i + 1], history.habits.driftPpm),
    );
  });
  const atStart = start && (tight[0] as TightEnds).first;
  return {
    tests: reports.flatMap(placeGap),
    incidents,
    drift: driftOf(drift),
    gaps: reports,
    checkpoints,
    ...(atStart ? { atStart } : {}),
  };
}

/** What a gap adds to what is known of the drift. */
function learn(s: DriftState, gap: Gap, t: TightEnds): DriftState {
  const begin = gap.first && t.first && { wall: gap.first.wall, ...t.first };
  const end = gap.last && t.last && { wall: gap.last.wall, ...t.last };
  return t.keeps && begin && end ? driftAnchor(driftAnchor(s, begin), end) : driftBreak(s, end);
}
