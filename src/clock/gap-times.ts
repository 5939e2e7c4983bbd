/**
 * The times of the tests in one gap: follows its stories and takes, for each test, the bounds that cover every story
 * within the margin and the estimate of the cheapest. Where equally cheap stories differ in where the change was, the
 * longer rests count for more: a change falls into a long rest more likely than into a short one.
 */
import { type Gap, middle, type Span } from './anchors.ts';
import { type Beginning, type CalendarPart, calendarOf } from './beginnings.ts';
import { CHANGE_KINDS, type ChangeKind } from './costs.ts';
import type { ClockHabits } from './history.ts';
import {
  beginsIn,
  type CertainChanges,
  type Chain,
  certainChanges,
  type Epoch,
  followStories,
  type Stamp,
  type Story,
} from './stories.ts';

/** Which epoch of the gap a test belongs to, in the story that was chosen for it. */
export type EpochPlace = 'between' | 'first' | 'last' | 'loose';

export interface TestTime {
  readonly estimate: number;
  readonly earliest: number;
  readonly latest: number;
  /** `between`: no change in the gap; `first`/`last`: in the epoch of that anchor; `loose`: no anchor in its epoch. */
  readonly place: EpochPlace;
  /** How the epoch of a loose test began, in the chosen story. */
  readonly began: ChangeKind | undefined;
}

/** A change of the clock in the cheapest story, with the span of moments that equally cheap stories allow. */
export interface Change {
  readonly kind: ChangeKind;
  readonly when: Span;
  /** New offset minus old, ms, where both are known well enough. */
  readonly size?: number;
  /** True where a rise of the meter's own count proves that power was lost. */
  readonly lossProven: boolean;
}

/** One kind of story that was considered, for `explain`. */
export interface StoryKind {
  readonly changes: readonly ChangeKind[];
  readonly cost: number;
  /** How many places for its changes are possible. */
  readonly ways: number;
}

export interface GapTimes {
  /** For each test of the gap; undefined where its stamp could not be used (its bounds come from the order alone). */
  readonly tests: readonly (TestTime | undefined)[];
  readonly cost: number;
  readonly changes: readonly Change[];
  readonly stories: readonly StoryKind[];
  /** True where the stories were too many to follow: bounds are those of the order alone. */
  readonly overflow: boolean;
}

/** What the offsets at the ends of a gap are known to be, tightened by the neighbours, and the drift to expect. */
export interface GapEnds {
  readonly first?: Span;
  readonly last?: Span;
  /** The meter's own usual drift, ms of offset a ms, for tests outside two anchors. */
  readonly usualDrift: number;
}

/** One gap with what was found in it, for incidents and `explain`. */
export interface GapReport {
  readonly gap: Gap;
  readonly ends: GapEnds;
  readonly times: GapTimes;
}

/** The longest stretch of time that a gap without a first anchor is taken to reach back. */
function windowOf(gap: Gap): Span {
  const lo = gap.first ? gap.first.at.lo : Math.min(...gap.notBefore);
  const told = gap.tests.reduce((max, t) => Math.max(max, t.toldBy), Number.NEGATIVE_INFINITY);
  return { lo, hi: gap.last ? gap.last.at.hi : told };
}

/** The stamps of a gap, with its anchors where there are any, and what they alone prove. */
export interface Stamped {
  readonly stamps: readonly Stamp[];
  /** Index of the test for each stamp; -1 for an anchor. */
  readonly test: readonly number[];
  readonly certain: CertainChanges;
  /** Everything in the gap lies in here, true time. */
  readonly window: Span;
}

/** The stamps of a gap. Tests without a usable stamp are left out; an unset clock leaves a certain change behind. */
export function stampsOf(gap: Gap): Stamped {
  const window = windowOf(gap);
  const stamps: Stamp[] = [];
  const test: number[] = [];
  const anchor = (a: NonNullable<Gap['first']>, unset: boolean): Stamp => ({
    wall: a.wall,
    resolutionMs: a.resolutionMs,
    lossCount: a.lossCount,
    within: a.at,
    clockSeenUnset: unset,
  });
  if (gap.first) {
    stamps.push(anchor(gap.first, false));
    test.push(-1);
  }
  let unset = false;
  gap.tests.forEach((t, i) => {
    unset = unset || t.unset || gap.clockSeenUnset[i] === true;
    if (!t.stamp) return;
    stamps.push({
      wall: t.stamp.wall,
      resolutionMs: t.stamp.resolutionMs,
      lossCount: t.lossCount,
      within: { lo: Math.max(window.lo, gap.notBefore[i] as number), hi: Math.min(window.hi, t.toldBy) },
      clockSeenUnset: unset,
    });
    test.push(i);
    unset = false;
  });
  if (gap.last) {
    stamps.push(anchor(gap.last, unset || gap.unsetBeforeLast));
    test.push(-1);
  }
  return { stamps, test, certain: certainChanges(stamps), window };
}

/** The chain that the stories of a gap follow. Its calendar is made only where a story calls for a change. */
function chainOf(gap: Gap, ends: GapEnds, habits: ClockHabits, { stamps, certain, window }: Stamped): Chain {
  const reset = gap.last?.resetStamp ?? gap.first?.resetStamp;
  let parts: readonly CalendarPart[] | undefined;
  return {
    stamps,
    certain,
    ...(ends.first ? { first: ends.first } : {}),
    ...(ends.last ? { last: ends.last } : {}),
    window,
    get calendar() {
      parts ??= calendarOf(window, gap.zones);
      return parts;
    },
    resets: reset !== undefined ? [reset] : habits.resets,
    drift: habits.driftPpm * 1e-6,
  };
}

interface Vote {
  weight: number;
  sum: number;
  place: EpochPlace;
  began: ChangeKind | undefined;
}

/**
 * The weight of a story from its logarithm. A meter whose batteries keep dying changes its clock a hundred times in one
 * gap: as a product of rests the weight would leave the range of numbers. Odds beyond e^300 decide all the same.
 */
const weightOf = (log: number): number => Math.exp(Math.min(300, Math.max(-300, log)));

/** A story's say about one test: stories that put it into the same kind of epoch count together. */
function cast(votes: Vote[], weight: number, at: number, place: EpochPlace, began: ChangeKind | undefined): void {
  for (const v of votes) {
    if (v.place !== place || v.began !== began) continue;
    v.weight += weight;
    v.sum += weight * at;
    return;
  }
  votes.push({ weight, sum: weight * at, place, began });
}

/** Places the tests of one gap. */
export function timesInGap(gap: Gap, ends: GapEnds, habits: ClockHabits): GapTimes {
  const stamped = stampsOf(gap);
  const { stamps, test, certain } = stamped;
  const chain = chainOf(gap, ends, habits, stamped);
  const n = stamps.length;
  const lo = new Float64Array(n).fill(Number.POSITIVE_INFINITY);
  const hi = new Float64Array(n).fill(Number.NEGATIVE_INFINITY);
  const votes: Vote[][] = Array.from({ length: n }, () => []);
  const kinds = new Map<string, { changes: ChangeKind[]; cost: number; ways: number }>();
  const rate = chain.drift / (1 - chain.drift);
  let least = Number.POSITIVE_INFINITY;
  /** Logarithm of the weight of the first of the cheapest stories: the others are weighed against it. */
  let usualWeight = 0;
  /** What the cheapest stories say of the changes, by their kinds. */
  const shapes = new Map<string, Shape>();

  const see = (story: Story): void => {
    const { epochs, cost } = story;
    const cheapest = cost < least + 1e-9;
    if (cost < least - 1e-9) {
      least = cost;
      for (const v of votes) v.length = 0;
      shapes.clear();
    }
    const single = epochs.length === 1;
    let logWeight = 0;
    let key = '';
    for (const e of epochs) {
      if (!e.beginning) continue;
      logWeight += Math.log1p((e.when.hi - e.when.lo) / 1000);
      key += CHANGE_KINDS.indexOf(e.beginning.kind);
    }
    if (shapes.size === 0) usualWeight = logWeight;
    const weight = weightOf(logWeight - usualWeight);
    for (let k = 0; k < epochs.length; k++) {
      const e = epochs[k] as Epoch;
      const first = stamps[e.from] as Stamp;
      const last = stamps[e.to] as Stamp;
      const isFirst = k === 0 && chain.first !== undefined;
      const isLast = k === epochs.length - 1 && chain.last !== undefined;
      const place: EpochPlace = single && isFirst && isLast ? 'between' : isFirst ? 'first' : isLast ? 'last' : 'loose';
      for (let i = e.from; i <= e.to; i++) {
        if (test[i] === -1) continue;
        const s = stamps[i] as Stamp;
        const fromFirst = rate * (s.wall - first.wall);
        const fromLast = rate * (last.wall - s.wall);
        const oHi = Math.min(e.atFirst.hi + fromFirst, e.atLast.hi + fromLast);
        const oLo = Math.max(e.atFirst.lo - fromFirst, e.atLast.lo - fromLast);
        const a = Math.max(e.within.lo, s.wall - oHi);
        const b = Math.min(e.within.hi, s.wall + s.resolutionMs - oLo);
        lo[i] = Math.min(lo[i] as number, a);
        hi[i] = Math.max(hi[i] as number, b);
        if (!cheapest) continue;
        const offset = estimateOffset(place, s.wall, first.wall, last.wall, ends, oLo, oHi);
        const at = s.wall + s.resolutionMs / 2 - offset;
        cast(votes[i] as Vote[], weight, at, place, place === 'loose' ? e.beginning?.kind : undefined);
      }
    }
    const kind = kinds.get(key);
    if (kind) {
      kind.ways++;
      kind.cost = Math.min(kind.cost, cost);
    } else {
      kinds.set(key, { changes: epochs.flatMap((e) => (e.beginning ? [e.beginning.kind] : [])), cost, ways: 1 });
    }
    if (cheapest && !single) shapes.set(key, withStory(shapes.get(key), changesOf(story, certain), weight));
  };

  const { best, overflow } = followStories(chain, see);
  const lost = overflow || best === Number.POSITIVE_INFINITY;
  const out: (TestTime | undefined)[] = gap.tests.map(() => undefined);
  if (!lost) {
    for (let i = 0; i < n; i++) {
      const [first, ...others] = votes[i] as Vote[];
      if (!first) continue; // an anchor
      const { sum, weight, place, began } = others.reduce((a, b) => (a.weight >= b.weight ? a : b), first);
      const [earliest, latest] = [lo[i] as number, hi[i] as number];
      out[test[i] as number] = { estimate: sum / weight, earliest, latest, place, began };
    }
  }
  const stories = [...kinds.values()].sort((a, b) => a.cost - b.cost);
  const { changes } = [...shapes.values()].reduce((a, b) => (a.weight >= b.weight ? a : b), NO_CHANGES);
  return { tests: out, cost: best, changes, stories, overflow: lost };
}

/** The best guess of the offset at a stamp, inside what the story allows. */
function estimateOffset(
  place: EpochPlace,
  wall: number,
  firstWall: number,
  lastWall: number,
  ends: GapEnds,
  lo: number,
  hi: number,
): number {
  let guess: number;
  if (place === 'between' && ends.first && ends.last) {
    const share = lastWall > firstWall ? (wall - firstWall) / (lastWall - firstWall) : 0;
    guess = middle(ends.first) + share * (middle(ends.last) - middle(ends.first));
  } else if (place === 'first' && ends.first) guess = middle(ends.first) + ends.usualDrift * (wall - firstWall);
  else if (place === 'last' && ends.last) guess = middle(ends.last) - ends.usualDrift * (lastWall - wall);
  else guess = (lo + hi) / 2;
  return Math.min(hi, Math.max(lo, guess));
}

/** The changes of the cheapest stories that have changes of the same kinds in the same order. */
interface Shape {
  /** How much the likeliest of them weighs. */
  readonly weight: number;
  /** As the likeliest tells them, at the moments of all. */
  readonly changes: readonly Change[];
}

const NO_CHANGES: Shape = { weight: Number.NEGATIVE_INFINITY, changes: [] };

function changesOf({ epochs }: Story, { loss, somewhere }: CertainChanges): Change[] {
  return epochs.slice(1).map((e, k) => {
    const before = epochs[k] as Epoch;
    const isKnown = [before.atLast, e.atFirst].every((s) => s.hi - s.lo < 600_000);
    return {
      kind: (e.beginning as Beginning).kind,
      when: e.when,
      ...(isKnown ? { size: middle(e.atFirst) - middle(before.atLast) } : {}),
      lossProven:
        loss[e.from - 1] === true ||
        // The only change among tests that do not tell the count, which has risen meanwhile.
        somewhere.some((run) => beginsIn(e, run) && epochs.filter((x) => beginsIn(x, run)).length === 1),
    };
  });
}

/** Adds the changes of one more story to those of its shape. */
function withStory(shape: Shape | undefined, told: readonly Change[], weight: number): Shape {
  if (!shape) return { weight, changes: told };
  const likelier = shape.weight >= weight ? shape.changes : told;
  const other = likelier === told ? shape.changes : told;
  const changes = likelier.map((change, i) => {
    const { lo, hi } = (other[i] as Change).when;
    return { ...change, when: { lo: Math.min(change.when.lo, lo), hi: Math.max(change.when.hi, hi) } };
  });
  return { weight: Math.max(shape.weight, weight), changes };
}
