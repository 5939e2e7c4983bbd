/**
 * Follows every story of what can have happened to the clock in one gap: between which tests it was changed, how often
 * and by what. Stories that break an interval are out; the rest carry a cost. For each story the exact bounds of every
 * test are found by one pass forwards (what is earliest) and one backwards (what is latest) along the chain of epochs.
 *
 * Offsets are wall time minus true time. Within an epoch the offset moves by at most drift x wall time passed. So an
 * epoch is known by the offset at its first and at its last stamp, and every test in it follows from these two.
 */

import { meet, type Span } from './anchors.ts';
import { type Beginning, beginnings, type CalendarPart } from './beginnings.ts';
import { ANY_CHANGE_COST, CHANGE_COST, LONGEST_REST_MS, MARGIN, STORY_LIMIT } from './costs.ts';

/** One stamp in the chain of a gap: a test, or the anchor at either end. */
export interface Stamp {
  readonly wall: number;
  readonly resolutionMs: number;
  readonly lossCount: number | undefined;
  /** True time lies in here, whatever the clock says. */
  readonly within: Span;
  /** A change of the clock lies between the stamp before, if there is one, and this one: the clock was seen unset there. */
  readonly clockSeenUnset: boolean;
}

/** One gap, ready to be followed. The anchors, where there are any, stand as stamps too. */
export interface Chain {
  /** Each of them lies in the window. */
  readonly stamps: readonly Stamp[];
  /** What the stamps alone prove. */
  readonly certain: CertainChanges;
  /** Offset at the first stamp, where that is an anchor. */
  readonly first?: Span;
  /** Offset at the last stamp, where that is an anchor. */
  readonly last?: Span;
  /** Everything in the gap lies in here, true time. */
  readonly window: Span;
  readonly calendar: readonly CalendarPart[];
  readonly resets: 'new-year' | readonly number[];
  readonly drift: number;
}

/** One epoch of a story: stamps `from` to `to`, and the offsets that the whole story leaves open at both ends. */
export interface Epoch {
  readonly from: number;
  readonly to: number;
  /** Undefined for the epoch that was running when the gap began. */
  readonly beginning: Beginning | undefined;
  readonly atFirst: Span;
  readonly atLast: Span;
  /** When the epoch began, true time; the window for the first epoch. */
  readonly when: Span;
  /** All its tests lie in here, by the order of events alone. */
  readonly within: Span;
}

export interface Story {
  readonly epochs: readonly Epoch[];
  readonly cost: number;
}

/** Everything that came out of following a chain. */
export interface Followed {
  /** Least cost; infinite where no story holds at all. */
  readonly best: number;
  /** True where there were too many stories to follow them all. */
  readonly overflow: boolean;
  /** How many beginnings of epochs were tried, over all stories: what following them costs. */
  readonly tried: number;
}

/** What the stamps alone prove of each boundary p, between stamp p and p + 1. */
export interface CertainChanges {
  /** The clock must have been changed there. */
  readonly change: readonly boolean[];
  /** Power was surely lost there. */
  readonly loss: readonly boolean[];
  /** The meter's count of losses is known on both sides, so that one is also ruled out where it does not rise. */
  readonly counted: readonly boolean[];
  /** Runs of boundaries, first to last, in one of which power was surely lost; the stamps between do not tell in which. */
  readonly somewhere: readonly Span[];
}

/** Whether the stamps prove any change at all, wherever it was. */
export const provesChange = ({ change, somewhere }: CertainChanges): boolean =>
  somewhere.length > 0 || change.includes(true);

/** The certain changes between stamps. */
export function certainChanges(stamps: readonly Stamp[]): CertainChanges {
  const change: boolean[] = [];
  const loss: boolean[] = [];
  const counted: boolean[] = [];
  for (let p = 0; p + 1 < stamps.length; p++) {
    const a = stamps[p] as Stamp;
    const b = stamps[p + 1] as Stamp;
    const bothCount = a.lossCount !== undefined && b.lossCount !== undefined;
    const lost = (bothCount && a.lossCount !== b.lossCount) || b.clockSeenUnset;
    counted.push(bothCount);
    loss.push(lost);
    change.push(lost || b.wall + b.resolutionMs <= a.wall || b.wall - a.wall > LONGEST_REST_MS);
  }
  return { change, loss, ...acrossUncounted(stamps, counted) };
}

/**
 * A meter may tell its count of losses at downloads only. The count never falls by itself: where it is the same before
 * and after tests that do not tell it, it was the same at each of them; where it differs, power was lost among them.
 */
function acrossUncounted(
  stamps: readonly Stamp[],
  adjacent: readonly boolean[],
): Pick<CertainChanges, 'counted' | 'somewhere'> {
  const counted = [...adjacent];
  const somewhere: Span[] = [];
  let teller = -1;
  stamps.forEach((stamp, i) => {
    if (stamp.lossCount === undefined) return;
    if (teller >= 0 && i > teller + 1) {
      if ((stamps[teller] as Stamp).lossCount === stamp.lossCount) counted.fill(true, teller, i);
      else somewhere.push({ lo: teller, hi: i - 1 });
    }
    teller = i;
  });
  return { counted, somewhere };
}

/** Whether an epoch begins at one of a run of boundaries. */
export const beginsIn = ({ beginning, from }: Pick<Epoch, 'beginning' | 'from'>, run: Span): boolean =>
  beginning !== undefined && from - 1 >= run.lo && from - 1 <= run.hi;

/**
 * Changes beyond the certain ones that a story may hold. More are not followed, though beside a story of six unexplained
 * ones another would still lie within the margin.
 */
const MOST_SPARE_CHANGES = 6;

interface Part {
  from: number;
  to: number;
  beginning: Beginning | undefined;
  when: Span;
  floor: number;
  atFirst: Span;
  forwardLast: Span;
}

/**
 * Calls `visit` for every story within the margin of the cheapest. The story handed over is only valid during the
 * call. Two rounds: the first finds the least cost, the second visits.
 */
export function followStories(chain: Chain, visit: (story: Story) => void): Followed {
  const { stamps, certain, window, drift } = chain;
  const n = stamps.length;
  if (n === 0) return { best: Number.POSITIVE_INFINITY, overflow: false, tried: 0 };
  const changesFrom: number[] = new Array(n).fill(0);
  for (let p = n - 2; p >= 0; p--) changesFrom[p] = (changesFrom[p + 1] as number) + (certain.change[p] ? 1 : 0);
  const total = changesFrom[0] as number;
  // Drift per ms of wall time; a little more than per ms of true time.
  const rate = drift / (1 - drift);

  const cache: (readonly Beginning[] | undefined)[] = [];
  const cacheLast: (readonly Beginning[] | undefined)[] = [];
  const lastWall = (stamps[n - 1] as Stamp).wall;
  const beginningsAt = (f: number, reachesLast: boolean): readonly Beginning[] => {
    const store = reachesLast ? cacheLast : cache;
    const known = store[f];
    if (known) return known;
    const { wall, resolutionMs } = stamps[f] as Stamp;
    const all = beginnings(
      { wall, resolutionMs, window, calendar: chain.calendar, resets: chain.resets, drift },
      reachesLast && chain.last ? { offset: chain.last, wall: lastWall } : undefined,
    ).filter((b) => b.kind !== 'loss' || !certain.counted[f - 1] || certain.loss[f - 1]);
    store[f] = all;
    return all;
  };
  // Where power was surely lost, any other beginning came on top of the loss.
  const costAt = (f: number, b: Beginning): number =>
    b.cost + (certain.loss[f - 1] && b.kind !== 'loss' ? CHANGE_COST.loss : 0);

  /** Least cost of what can have led to the offset at the end of the gap, wherever it happened. */
  let least: number | undefined;
  const leastLast = (): number => {
    if (least !== undefined) return least;
    least = chain.last ? CHANGE_COST.unexplained : CHANGE_COST.loss;
    for (let f = 1; f < n && least > CHANGE_COST.loss; f++) {
      for (const b of beginningsAt(f, true)) least = Math.min(least, b.cost);
    }
    return least;
  };

  /** Least cost of the certain changes at boundary p and behind it. */
  let certainCosts: number[] | undefined;
  const leastCertain = (p: number): number => {
    if (!certainCosts) {
      certainCosts = new Array(n).fill(0);
      for (let q = n - 2; q >= 0; q--) {
        const here = certain.change[q] ? Math.min(...beginningsAt(q + 1, false).map((b) => costAt(q + 1, b))) : 0;
        certainCosts[q] = (certainCosts[q + 1] as number) + here;
      }
    }
    return certainCosts[p] as number;
  };

  /** Least cost of so many changes at boundary p and behind it, the certain ones among them. */
  const leastFrom = (p: number, changes: number): number =>
    changes === 0
      ? 0
      : Math.max(
          (changes - 1) * CHANGE_COST.loss + leastLast(),
          leastCertain(p) + (changes - (changesFrom[p] as number)) * CHANGE_COST.loss,
        );

  const parts: Part[] = [];
  let tried = 0;
  let overflow = false;

  /** Ends an epoch at the last stamp: the backward pass, and the visit if all intervals survive. */
  const finish = (cost: number, report: (cost: number, epochs: Epoch[]) => void): void => {
    const epochs: Epoch[] = new Array(parts.length);
    let before = Number.POSITIVE_INFINITY; // the epoch at hand ended before this
    let moved: Span | undefined; // its last offset, as far as the epoch after it says: the same clock, moved
    for (let e = parts.length - 1; e >= 0; e--) {
      const part = parts[e] as Part;
      const first = stamps[part.from] as Stamp;
      const last = stamps[part.to] as Stamp;
      const play = rate * (last.wall - first.wall);
      let atLast = part.forwardLast;
      if (e === parts.length - 1 && chain.last) atLast = meet(atLast, chain.last);
      if (moved) {
        atLast = meet(atLast, moved);
        // So that says, too, when the last test before was made at the earliest, behind which the clock was moved.
        const after = epochs[e + 1] as Epoch;
        const when = { lo: Math.max(after.when.lo, last.wall - atLast.hi), hi: after.when.hi };
        epochs[e + 1] = { ...after, when };
      }
      atLast = { lo: Math.max(atLast.lo, last.wall - Math.min(before, last.within.hi)), hi: atLast.hi };
      if (atLast.lo > atLast.hi) return;
      // Never empty: no further than `play` away is where this pass began.
      const atFirst = meet(part.atFirst, { lo: atLast.lo - play, hi: atLast.hi + play });
      let when = part.when;
      const within = { lo: part.floor, hi: before };
      const b = part.beginning;
      if (b) {
        const latestFirst = first.wall + first.resolutionMs - atFirst.lo;
        when = { lo: when.lo, hi: Math.min(when.hi, latestFirst) };
        // Set just before the first test, the clock cannot have drifted yet: the setting is no later than this.
        if (b.offset) when = { lo: when.lo, hi: Math.min(when.hi, first.wall + first.resolutionMs - b.offset.lo) };
        if (b.from !== undefined) {
          const ran = drift * (1.01 * Math.max(0, first.wall + first.resolutionMs - b.from));
          when = meet(when, { lo: b.from - atFirst.hi - ran, hi: b.from - atFirst.lo + ran });
        }
        if (when.lo > when.hi) return;
        before = when.hi;
        moved = undefined;
        if (b.moved !== undefined) {
          const across = playAcross(b.moved, stamps[part.from - 1] as Stamp, first, rate);
          moved = { lo: atFirst.lo - b.moved - across, hi: atFirst.hi - b.moved + across };
        }
      }
      epochs[e] = { from: part.from, to: part.to, beginning: b, atFirst, atLast, when, within };
    }
    if (certain.somewhere.every((run) => epochs.some((e) => beginsIn(e, run)))) report(cost, epochs);
  };

  /** Follows an epoch that starts at stamp f with a known offset there. `floor` is the earliest true time of stamp f. */
  const walk = (
    f: number,
    atFirst: Span,
    when: Span,
    beginning: Beginning | undefined,
    floor: number,
    cost: number,
    extras: number,
    limit: () => number,
    report: (cost: number, epochs: Epoch[]) => void,
  ): void => {
    if (overflow) return;
    const first = stamps[f] as Stamp;
    let low = floor;
    // The offset but for drift: also what stamps on the way say, that were told before others of the epoch, or made after
    // a download that did not see the clock.
    let least = atFirst.lo;
    let most = atFirst.hi;
    for (let l = f; ; l++) {
      const s = stamps[l] as Stamp;
      const play = rate * (s.wall - first.wall);
      const here = s.wall + s.resolutionMs - Math.max(low, s.within.lo);
      least = Math.max(least, s.wall - s.within.hi);
      const forwardLast = { lo: least - play, hi: Math.min(most + play, here) };
      if (forwardLast.lo > forwardLast.hi) return; // the order would be violated from here on
      most = Math.min(most, here);
      low = Math.max(low, s.within.lo, s.wall - forwardLast.hi);
      if (low > s.within.hi) return;
      if (l === n - 1) {
        if (extras > 0) return; // a story with fewer changes: told in another round
        parts.push({ from: f, to: l, beginning, when, floor, atFirst, forwardLast });
        finish(cost, report);
        parts.pop();
        return;
      }
      const isCertain = certain.change[l] as boolean;
      if (!isCertain && extras === 0) continue;
      const spare = isCertain ? extras : extras - 1;
      const rest = (changesFrom[l + 1] as number) + spare;
      const lastIsNext = rest === 0;
      const next = stamps[l + 1] as Stamp;
      parts.push({ from: f, to: l, beginning, when, floor, atFirst, forwardLast });
      for (const b of beginningsAt(l + 1, lastIsNext)) {
        const more = cost + costAt(l + 1, b) + (parts.length === 1 ? ANY_CHANGE_COST : 0);
        if (more + leastFrom(l + 1, rest) > limit()) continue;
        // Moved by so much, the clock would have to run backwards from one stamp to the next.
        if (b.moved !== undefined && mostPassed(b.moved, s, next) < 0) continue;
        const since = { lo: Math.max(b.when.lo, low), hi: b.when.hi };
        if (since.lo > since.hi) continue;
        const within = { lo: Math.max(low, next.within.lo), hi: next.within.hi };
        const start =
          b.moved === undefined
            ? offsetAtFirst(b, since, next, within, drift)
            : movedOffset(b.moved, forwardLast, s, next, within, rate);
        if (start.lo > start.hi) continue;
        if (lastIsNext && chain.last) {
          const play = rate * (lastWall - next.wall);
          if (start.lo - play > chain.last.hi || start.hi + play < chain.last.lo) continue; // it misses the anchor
        }
        if (++tried > STORY_LIMIT) {
          overflow = true;
          break;
        }
        walk(l + 1, start, since, b, Math.max(since.lo, next.within.lo), more, spare, limit, report);
      }
      parts.pop();
      if (isCertain) return;
    }
  };

  const begin = (extras: number, limit: () => number, report: (cost: number, epochs: Epoch[]) => void): void => {
    const s = stamps[0] as Stamp;
    const atFirst = chain.first ?? orderedOffset(s, s.within);
    walk(0, atFirst, window, undefined, s.within.lo, 0, extras, limit, report);
  };

  /** Least cost of a story with so many changes; one without any is looked at in any case. */
  const leastCost = (changes: number): number => ANY_CHANGE_COST + leastFrom(0, changes);

  let best = Number.POSITIVE_INFINITY;
  for (let extras = 0; extras <= MOST_SPARE_CHANGES && leastCost(total + extras) < best; extras++) {
    begin(
      extras,
      () => best - 1e-9,
      (cost) => {
        best = cost; // only what is cheaper is followed to its end
      },
    );
  }
  if (best === Number.POSITIVE_INFINITY) return { best, overflow, tried };
  const limit = best + MARGIN + 1e-9;
  for (let extras = 0; extras <= MOST_SPARE_CHANGES && leastCost(total + extras) <= limit; extras++) {
    begin(
      extras,
      () => limit,
      (cost, epochs) => visit({ epochs, cost }),
    );
  }
  return { best, overflow, tried };
}

/** The offset at an epoch's first stamp, from how and when it began. `within` bounds the true time of the stamp. */
function offsetAtFirst(b: Beginning, since: Span, first: Stamp, within: Span, drift: number): Span {
  const order = orderedOffset(first, within);
  if (b.from !== undefined) {
    // It has run from a known stamp: offset right after the loss is `from` minus the moment of the loss.
    const ran = (drift * Math.max(0, first.wall + first.resolutionMs - b.from)) / (1 - drift);
    return meet(order, { lo: b.from - since.hi - ran, hi: b.from - since.lo + ran });
  }
  if (!b.offset) return order;
  // Furthest drift since the setting, for the earliest setting: solve t = wall - offset(t) for both ends.
  const latest = Math.min(within.hi, (first.wall + first.resolutionMs - b.offset.lo - drift * since.lo) / (1 - drift));
  const earliest = Math.max(within.lo, (first.wall - b.offset.hi + drift * since.lo) / (1 + drift));
  return meet(order, {
    lo: b.offset.lo - drift * Math.max(0, latest - since.lo),
    hi: b.offset.hi + drift * Math.max(0, earliest - since.lo),
  });
}

/** The offsets at a stamp that the order of events allows. */
const orderedOffset = (s: Stamp, within: Span): Span => ({
  lo: s.wall - within.hi,
  hi: s.wall + s.resolutionMs - within.lo,
});

/** By how much at the most a clock that was moved by hand but never stopped has run on from one stamp to the next. */
const mostPassed = (moved: number, last: Stamp, next: Stamp): number =>
  next.wall + next.resolutionMs - moved - last.wall;

/** How far it can have drifted meanwhile. */
const playAcross = (moved: number, last: Stamp, next: Stamp, rate: number): number =>
  rate * mostPassed(moved, last, next);

/** The offset at an epoch's first stamp where a running clock was moved by a fixed amount since the stamp before. */
function movedOffset(moved: number, atLast: Span, last: Stamp, next: Stamp, within: Span, rate: number): Span {
  const play = playAcross(moved, last, next, rate);
  return meet(orderedOffset(next, within), { lo: atLast.lo + moved - play, hi: atLast.hi + moved + play });
}
