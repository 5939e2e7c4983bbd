/**
 * The offsets at both ends of every gap, tightened along runs of gaps in which nothing calls for a change: one pass
 * forwards, one backwards, which is exact for intervals along a path.
 */
import { type Anchor, type Gap, meet, type Span, widen } from './anchors.ts';
import { stampsOf } from './gap-times.ts';
import type { ClockHabits } from './history.ts';
import { provesChange } from './stories.ts';

export interface TightEnds {
  readonly first?: Span;
  readonly last?: Span;
  /** The offset at `last` as the forward pass left it: what the next download starts from. */
  readonly reach?: Span;
  /** True where nothing calls for a change between the two anchors. */
  readonly keeps: boolean;
}

/** How far the offset can have drifted from one anchor to the next. */
const playOf = (a: Anchor, b: Anchor, rate: number): number => rate * (Math.max(0, b.wall - a.wall) + b.resolutionMs);

/** `start` is what earlier gaps leave of the offset at the first anchor of the first gap. */
export function tighten(gaps: readonly Gap[], habits: ClockHabits, start?: Span): TightEnds[] {
  const drift = habits.driftPpm * 1e-6;
  const rate = drift / (1 - drift);
  const out: { first?: Span; last?: Span; reach?: Span; keeps: boolean }[] = [];
  let reach = start;
  let at = gaps[0]?.first;
  for (const gap of gaps) {
    const first = gap.first ? (gap.first === at && reach ? reach : gap.first.offset) : undefined;
    let last = gap.last?.offset;
    let keeps = false;
    if (gap.first && gap.last && first && last && !gap.first.alternative) {
      const common = meet(widen(first, playOf(gap.first, gap.last, rate)), last);
      keeps = common.lo <= common.hi && !provesChange(stampsOf(gap).certain);
      if (keeps) last = common;
    }
    out.push({ ...(first ? { first } : {}), ...(last ? { last, reach: last } : {}), keeps });
    at = gap.last;
    reach = last;
  }
  for (let i = out.length - 1; i >= 0; i--) {
    const here = out[i];
    const gap = gaps[i];
    const next = out[i + 1];
    if (!here || !gap) continue;
    if (next?.first && gap.last && gaps[i + 1]?.first === gap.last) here.last = next.first;
    if (here.keeps && here.first && here.last && gap.first && gap.last) {
      here.first = meet(here.first, widen(here.last, playOf(gap.first, gap.last, rate)));
    }
  }
  return out;
}
