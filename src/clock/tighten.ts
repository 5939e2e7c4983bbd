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
  /** The offset at `first` as the gaps before leave it: what placing starts from that goes on there. */
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
  let at = gaps[0]?.first;
  let known = start;
  for (const gap of gaps) {
    const reach = gap.first && (gap.first === at && known ? known : gap.first.offset);
    let last = gap.last?.offset;
    let keeps = false;
    if (gap.first && reach && gap.last && last && !gap.first.alternative) {
      const common = meet(widen(reach, playOf(gap.first, gap.last, rate)), last);
      keeps = common.lo <= common.hi && !provesChange(stampsOf(gap).certain);
      if (keeps) last = common;
    }
    out.push({ ...(reach ? { first: reach, reach } : {}), ...(last ? { last } : {}), keeps });
    at = gap.last;
    known = last;
  }
  at = undefined;
  known = undefined;
  for (let i = out.length - 1; i >= 0; i--) {
    const here = out[i] as (typeof out)[number];
    const { first, last } = gaps[i] as Gap;
    if (known && last === at) here.last = known;
    if (here.keeps && here.first && here.last && first && last)
      here.first = meet(here.first, widen(here.last, playOf(first, last, rate)));
    at = first;
    known = here.first;
  }
  return out;
}
