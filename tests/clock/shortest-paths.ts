/**
 * A second way to the bounds of a gap, for clocks that do not drift: every choice of boundaries and kinds of change is
 * written down as bounds on differences. The true times, the moments of the changes and the offsets (with their sign
 * turned) are the variables; everything that the page says of a clock bounds the difference of two of them. Then the
 * shortest paths between them (Floyd and Warshall) are the exact bounds, and a circle of negative length says that a story
 * cannot have happened. Shares nothing with the clock room but the page's numbers, repeated here.
 */
import type { Gap, Span } from '../../src/clock/anchors.ts';
import type { ChangeKind } from '../../src/clock/costs.ts';

const MINUTE = 60_000;
const HOUR = 60 * MINUTE;
const DAY = 24 * HOUR;

/** What is known of a gap beside its tests and anchors. */
export interface Known {
  /** What the clock shows after a power loss. */
  readonly reset: number;
  /** Local time minus UTC, the same in all of the gap. */
  readonly zoneOffset: number;
  /** Everything lies in here. */
  readonly window: Span;
  /** What the clock is known to gain, as a fraction. */
  readonly usualDrift: number;
}

/** One change between stamp `at` and the next. */
interface Begin {
  readonly at: number;
  readonly kind: 'loss' | 'set' | 'moved' | 'unexplained';
  /** What the change is called. */
  readonly name: ChangeKind;
  readonly cost: number;
  /** By how much a hand was off local time on purpose or by mistake, or moved the clock. */
  readonly by: number;
  /** The days in a row on which that is what a wrong date amounts to. */
  readonly on?: Span;
}

interface Mark {
  readonly wall: number;
  readonly resolutionMs: number;
  readonly within: Span;
  readonly count: number | undefined;
  readonly unsetBefore: boolean;
}

/** The stamps of a gap, its anchors among them. */
function marksOf(gap: Gap, { window }: Known): Mark[] {
  const marks: Mark[] = [];
  const anchor = (a: NonNullable<Gap['first']>, unsetBefore: boolean): void => {
    marks.push({ wall: a.wall, resolutionMs: a.resolutionMs, within: a.at, count: a.lossCount, unsetBefore });
  };
  if (gap.first) anchor(gap.first, false);
  let unset = false;
  gap.tests.forEach((t, i) => {
    unset ||= t.unset || gap.clockSeenUnset[i] === true;
    if (!t.stamp) return;
    const within = { lo: Math.max(window.lo, gap.notBefore[i] ?? 0), hi: Math.min(window.hi, t.toldBy) };
    marks.push({ ...t.stamp, within, count: t.lossCount, unsetBefore: unset });
    unset = false;
  });
  if (gap.last) anchor(gap.last, unset || gap.unsetBeforeLast);
  return marks;
}

/** Every way in which the clock can have been changed, wherever that was. */
function waysOf({ window, zoneOffset }: Known): Omit<Begin, 'at'>[] {
  const ways: Omit<Begin, 'at'>[] = [
    { kind: 'loss', name: 'loss', cost: 2, by: 0 },
    { kind: 'set', name: 'set-right', cost: 2, by: 0 },
    { kind: 'unexplained', name: 'unexplained', cost: 9, by: 0 },
  ];
  for (const sign of [-1, 1]) {
    ways.push({ kind: 'set', name: 'hour', cost: 4, by: sign * HOUR });
    ways.push({ kind: 'moved', name: 'hour', cost: 4, by: sign * HOUR });
    ways.push({ kind: 'set', name: 'half-day', cost: 4, by: sign * 12 * HOUR });
  }
  for (let day = Math.floor((window.lo + zoneOffset) / DAY) * DAY; day <= window.hi + zoneOffset; day += DAY) {
    const [y, m, d] = new Date(day).toISOString().slice(0, 10).split('-').map(Number) as [number, number, number];
    const on = { lo: day - zoneOffset, hi: day + DAY - 1 - zoneOffset };
    const keyed = (name: ChangeKind, year: number, month: number, date: number): void => {
      const to = Date.UTC(year, month - 1, date);
      const isOne = month <= 12 && new Date(to).getUTCDate() === date && to !== day;
      if (!isOne) return;
      const by = to - day;
      const before = ways.findIndex((way) => way.name === name && way.by === by && way.on?.hi === on.lo - 1);
      const lo = ways[before]?.on?.lo ?? on.lo;
      ways.splice(before >= 0 ? before : ways.length, 1, { kind: 'set', name, cost: 4.5, by, on: { lo, hi: on.hi } });
    };
    keyed('day-month', y, d, m);
    for (const k of [-2, -1, 1, 2]) keyed('year', y + k, m, d);
  }
  return ways;
}

/** What one story leaves of the times of the stamps, the moments of its changes and the offsets of its epochs. */
interface Left {
  readonly times: readonly Span[];
  readonly moments: readonly Span[];
  readonly offsets: readonly Span[];
}

/** What is left of the first so many stamps in one story; undefined where it cannot have happened. */
function boundsOf(
  gap: Gap,
  known: Known,
  marks: readonly Mark[],
  story: readonly Begin[],
  isWhole: boolean,
): Left | undefined {
  const n = marks.length;
  const size = 1 + n + 2 * story.length + 1;
  /** The most that x[b] - x[a] can be, at a * size + b. */
  const most = new Float64Array(size * size).fill(Infinity);
  const at = (a: number, b: number): number => most[a * size + b] as number;
  /** x[b] - x[a] lies in here. */
  const between = (a: number, b: number, lo: number, hi: number): void => {
    if (hi < at(a, b)) most[a * size + b] = hi;
    if (-lo < at(b, a)) most[b * size + a] = -lo;
  };
  const time = (i: number): number => 1 + i;
  const moment = (k: number): number => 1 + n + k;
  const turned = (epoch: number): number => 1 + n + story.length + epoch;
  marks.forEach((m, i) => {
    const epoch = story.filter((change) => change.at < i).length;
    between(turned(epoch), time(i), m.wall, m.wall + m.resolutionMs);
    between(0, time(i), m.within.lo, m.within.hi);
    if (i > 0) between(time(i - 1), time(i), 0, Infinity);
  });
  story.forEach(({ at: boundary, kind, by, on }, k) => {
    between(time(boundary), moment(k), 0, Infinity);
    between(moment(k), time(boundary + 1), 0, Infinity);
    between(0, moment(k), known.window.lo, known.window.hi);
    if (on) between(0, moment(k), on.lo, on.hi);
    const right = known.zoneOffset + by;
    if (kind === 'set') between(0, turned(k + 1), -right - 5 * MINUTE, -right + 5 * MINUTE);
    if (kind === 'moved') between(turned(k), turned(k + 1), -by, -by);
    if (kind === 'loss') {
      between(turned(k + 1), moment(k), known.reset, known.reset);
      between(0, moment(k), known.reset - known.zoneOffset, Infinity); // that date is past when a meter is made
    }
  });
  if (gap.first) between(0, turned(0), -gap.first.offset.hi, -gap.first.offset.lo);
  if (gap.last && isWhole) between(0, turned(story.length), -gap.last.offset.hi, -gap.last.offset.lo);
  for (let via = 0; via < size; via++) {
    for (let from = 0; from < size; from++) {
      const first = at(from, via);
      if (first === Infinity) continue;
      for (let to = 0; to < size; to++) {
        const length = first + at(via, to);
        if (length < at(from, to)) most[from * size + to] = length;
      }
    }
  }
  for (let i = 0; i < size; i++) if (at(i, i) < 0) return undefined;
  const left = (variable: number): Span => ({ lo: -at(variable, 0), hi: at(0, variable) });
  const back = ({ lo, hi }: Span): Span => ({ lo: -hi, hi: -lo });
  return {
    times: marks.map((_, i) => left(time(i))),
    moments: story.map((_, k) => left(moment(k))),
    offsets: [0, ...story].map((_, epoch) => back(left(turned(epoch)))),
  };
}

/** Where the meter's count says that power was lost: at one of these boundaries. */
function lossRuns(marks: readonly Mark[]): { runs: Span[]; none: Set<number> } {
  const runs: Span[] = [];
  const none = new Set<number>();
  const tellers = marks.flatMap(({ count }, i) => (count === undefined ? [] : [i]));
  tellers.forEach((i, k) => {
    const before = tellers[k - 1];
    if (before === undefined) return;
    if (marks[i]?.count !== marks[before]?.count) runs.push({ lo: before, hi: i - 1 });
    else for (let p = before; p < i; p++) none.add(p);
  });
  marks.forEach(({ unsetBefore }, i) => {
    if (!unsetBefore || i === 0) return;
    runs.push({ lo: i - 1, hi: i - 1 });
    none.delete(i - 1);
  });
  return { runs, none };
}

/** What the stories say of one stamped test. */
export interface Told {
  /** What all stories within the margin leave of its time. */
  readonly lo: number;
  readonly hi: number;
  /** By the cheapest stories: the kind of epoch that weighs most, how that began where no anchor is in it, and the time. */
  readonly place: 'between' | 'first' | 'last' | 'loose';
  readonly began: ChangeKind | undefined;
  readonly estimate: number;
}

/** One change, as the likeliest of the cheapest stories has it. */
export interface ToldChange {
  readonly kind: ChangeKind;
  /** The moments that all of the cheapest stories with the same kinds of changes allow. */
  readonly when: Span;
  /** New offset minus old, where both are known to less than 10 minutes. */
  readonly size?: number;
  /** Power was lost there for certain: no other change among the stamps where it must have been. */
  readonly lossProven: boolean;
}

interface ToldStory {
  readonly story: readonly Begin[];
  readonly cost: number;
  readonly left: Left;
}

const middle = ({ lo, hi }: Span): number => (lo + hi) / 2;

/** How the cheapest stories together place one stamp: a story weighs as much as its changes have room, to a second. */
function vote(
  gap: Gap,
  { usualDrift }: Known,
  marks: readonly Mark[],
  i: number,
  cheapest: readonly ToldStory[],
): Omit<Told, 'lo' | 'hi'> {
  const sums = new Map<string, { place: Told['place']; began: ChangeKind | undefined; weight: number; sum: number }>();
  for (const told of cheapest) {
    const { story, left } = told;
    const epoch = story.filter(({ at }) => at < i).length;
    const isFirst = epoch === 0 && gap.first !== undefined;
    const isLast = epoch === story.length && gap.last !== undefined;
    const place = isFirst && isLast ? 'between' : isFirst ? 'first' : isLast ? 'last' : 'loose';
    const offset = left.offsets[epoch] as Span;
    const { wall, resolutionMs } = marks[i] as Mark;
    const [begin, end] = [gap.first, gap.last].map((a) => a && { wall: a.wall, offset: middle(a.offset) });
    const known = isFirst ? begin : isLast ? end : undefined;
    const guess =
      place === 'between' && begin && end
        ? begin.offset + ((end.offset - begin.offset) * (wall - begin.wall)) / (end.wall - begin.wall)
        : known
          ? known.offset + usualDrift * (wall - known.wall)
          : middle(offset);
    const time = wall + resolutionMs / 2 - Math.min(offset.hi, Math.max(offset.lo, guess));
    const weight = weightOf(told);
    const began = place === 'loose' ? story[epoch - 1]?.name : undefined;
    const key = `${place} ${began}`;
    const sum = sums.get(key) ?? { place, began, weight: 0, sum: 0 };
    sums.set(key, { ...sum, weight: sum.weight + weight, sum: sum.sum + weight * (time - wall) });
  }
  const [most] = [...sums.values()].sort((a, b) => b.weight - a.weight);
  if (!most) throw new Error('no story holds');
  return { place: most.place, began: most.began, estimate: (marks[i] as Mark).wall + most.sum / most.weight };
}

const weightOf = ({ left }: ToldStory): number =>
  left.moments.reduce((product, { lo, hi }) => product * (1 + (hi - lo) / 1000), 1);
const namesOf = ({ story }: ToldStory): string => story.map(({ name }) => name).join(', ');

/** The changes of the likeliest of the cheapest stories. */
function changesOf(cheapest: readonly ToldStory[], runs: readonly Span[]): ToldChange[] {
  const likeliest = cheapest.reduce((a, b) => (weightOf(a) >= weightOf(b) ? a : b));
  const alike = cheapest.filter((other) => namesOf(other) === namesOf(likeliest));
  const { story, left } = likeliest;
  return story.map(({ name, at }, k) => {
    const [before, after] = [left.offsets[k] as Span, left.offsets[k + 1] as Span];
    const moments = alike.map((other) => other.left.moments[k] as Span);
    return {
      kind: name,
      when: { lo: Math.min(...moments.map(({ lo }) => lo)), hi: Math.max(...moments.map(({ hi }) => hi)) },
      ...([before, after].every(({ lo, hi }) => hi - lo < 10 * MINUTE) ? { size: middle(after) - middle(before) } : {}),
      lossProven: runs.some(
        ({ lo, hi }) => at >= lo && at <= hi && story.filter((other) => other.at >= lo && other.at <= hi).length === 1,
      ),
    };
  });
}

/**
 * What the stories of a gap leave of every stamped test, the least cost, and the kinds of stories within the margin of 3,
 * by their changes, each with its cost and in how many ways it can have happened. Stories of more than 3 changes or of a cost beyond `limit` are not looked at.
 */
export function byShortestPaths(
  gap: Gap,
  known: Known,
  limit: number,
): {
  readonly best: number;
  readonly changes: readonly ToldChange[];
  readonly tests: readonly Told[];
  readonly stories: Map<string, [cost: number, ways: number]>;
} {
  const marks = marksOf(gap, known);
  const { runs, none } = lossRuns(marks);
  const ways = waysOf(known);
  const all: ToldStory[] = [];
  const extend = (story: readonly Begin[], cost: number): void => {
    if (runs.every((run) => story.some(({ at }) => at >= run.lo && at <= run.hi))) {
      const left = boundsOf(gap, known, marks, story, true);
      if (left) all.push({ story, cost, left });
    }
    if (story.length === 3) return;
    for (let at = (story.at(-1)?.at ?? -1) + 1; at + 1 < marks.length; at++) {
      const isLost = runs.some(({ lo, hi }) => lo === at && hi === at);
      for (const way of ways) {
        if (way.kind === 'loss' && none.has(at)) continue;
        const more = cost + way.cost + (story.length === 0 ? 2 : 0) + (isLost && way.kind !== 'loss' ? 2 : 0);
        const next = [...story, { ...way, at }];
        // Half a story that cannot have happened does not become possible by what came after it.
        if (more <= limit && boundsOf(gap, known, marks.slice(0, at + 2), next, false)) extend(next, more);
      }
    }
  };
  extend([], 0);
  const best = Math.min(...all.map(({ cost }) => cost));
  const near = all.filter(({ cost }) => cost <= best + 3);
  const cheapest = near.filter(({ cost }) => cost === best);
  const first = gap.first ? 1 : 0;
  const stories = new Map<string, [number, number]>();
  for (const told of near) {
    const { cost } = told;
    const key = namesOf(told);
    const [least, count] = stories.get(key) ?? [cost, 0];
    stories.set(key, [Math.min(least, cost), count + 1]);
  }
  return {
    best,
    changes: changesOf(cheapest, runs),
    stories,
    tests: gap.tests
      .filter(({ stamp }) => stamp)
      .map((_, i) => ({
        lo: Math.min(...near.map(({ left }) => left.times[first + i]?.lo ?? Number.NaN)),
        hi: Math.max(...near.map(({ left }) => left.times[first + i]?.hi ?? Number.NaN)),
        ...vote(gap, known, marks, first + i, cheapest),
      })),
  };
}
