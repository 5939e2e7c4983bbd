/**
 * A second way to the same bounds, for small gaps: every choice of boundaries and kinds of change is written down as a
 * linear programme in the true times and offsets themselves and solved for the earliest and latest moment of every
 * test. Shares nothing with the clock room but the page's numbers, repeated here. No summer time, wrong dates or years:
 * the gaps that it is used on leave no room for them.
 */
import { solve } from 'yalps';

export interface SmallGap {
  /** True time of the two anchors' questions and answers, what they showed, at one-second resolution. */
  readonly first: { readonly from: number; readonly to: number; readonly wall: number };
  readonly last: { readonly from: number; readonly to: number; readonly wall: number };
  readonly tests: readonly number[];
  readonly resolutionMs: number;
  /** What the clock shows after a power loss. */
  readonly reset: number;
  readonly drift: number;
  /** Offset of the zone, constant in the gap. */
  readonly zoneOffset: number;
}

const HOUR = 3_600_000;
const KINDS: readonly { kind: string; cost: number; slips: readonly number[] }[] = [
  { kind: 'loss', cost: 2, slips: [0] },
  { kind: 'set-right', cost: 2, slips: [0] },
  { kind: 'hour', cost: 4, slips: [-HOUR, HOUR] },
  { kind: 'moved', cost: 4, slips: [-HOUR, HOUR] },
  { kind: 'half-day', cost: 4, slips: [-12 * HOUR, 12 * HOUR] },
  { kind: 'unexplained', cost: 9, slips: [0] },
];

interface Begin {
  readonly at: number;
  readonly kind: string;
  readonly slip: number;
}

type Constraint = { coefficients: Record<string, number>; min?: number; max?: number };

/**
 * Bounds of every test in one story, or undefined where it cannot have happened. The solver now and then calls a
 * feasible programme infeasible (rounding in its pivots), so a refusal counts only if it refuses in another unit too.
 */
function boundsOf(gap: SmallGap, changes: readonly Begin[]): { lo: number; hi: number }[] | undefined {
  return solveStory(gap, changes, 1000) ?? solveStory(gap, changes, 37_000);
}

/** One story as a linear programme whose unit of time is `unit` ms. */
function solveStory(gap: SmallGap, changes: readonly Begin[], unit: number): { lo: number; hi: number }[] | undefined {
  // Time counts from the first anchor, and in an epoch that runs from the default date offsets relative to that date, so
  // that all numbers are of one size: solvers do not like them apart.
  const base = gap.first.from;
  const walls = [gap.first.wall, ...gap.tests, gap.last.wall].map((w) => (w - base) / unit);
  const reset = (gap.reset - base) / unit;
  let shift = 0;
  const shifts = walls.map((_, i) => {
    const began = changes.find((c) => c.at === i - 1);
    if (began) shift = (walls[i] ?? 0) < (-365 * 86_400_000) / unit ? reset : 0;
    return shift;
  });
  const n = walls.length;
  const rows: Constraint[] = [];
  const row = (coefficients: Record<string, number>, min?: number, max?: number): void => {
    rows.push({ coefficients, ...(min === undefined ? {} : { min }), ...(max === undefined ? {} : { max }) });
  };
  // Offsets are kept as positive variables by adding a large constant.
  const BIG = 1e10 / unit;
  for (let i = 0; i < n; i++) {
    const r = i === 0 || i === n - 1 ? 1000 / unit : gap.resolutionMs / unit;
    const w = (walls[i] ?? 0) - (shifts[i] ?? 0) + BIG;
    row({ [`t${i}`]: 1, [`o${i}`]: 1 }, w, w + r);
  }
  row({ t0: 1 }, 0, (gap.first.to - base) / unit);
  row({ [`t${n - 1}`]: 1 }, (gap.last.from - base) / unit, (gap.last.to - base) / unit);
  for (let i = 0; i + 1 < n; i++) {
    const change = changes.find((c) => c.at === i);
    const j = i + 1;
    row({ [`t${j}`]: 1, [`t${i}`]: -1 }, 0);
    if (!change || change.kind === 'moved') {
      // The same clock goes on, perhaps moved by an hour; it drifts all the while.
      const by = (change ? change.slip / unit : 0) - (shifts[j] ?? 0) + (shifts[i] ?? 0);
      row({ [`o${j}`]: 1, [`o${i}`]: -1, [`t${j}`]: -gap.drift, [`t${i}`]: gap.drift }, undefined, by);
      row({ [`o${j}`]: 1, [`o${i}`]: -1, [`t${j}`]: gap.drift, [`t${i}`]: -gap.drift }, by);
      continue;
    }
    const s = `s${j}`;
    const q = `q${j}`;
    row({ [s]: 1, [`t${i}`]: -1 }, 0);
    row({ [`t${j}`]: 1, [s]: -1 }, 0);
    row({ [`o${j}`]: 1, [q]: -1, [`t${j}`]: -gap.drift, [s]: gap.drift }, undefined, 0);
    row({ [`o${j}`]: 1, [q]: -1, [`t${j}`]: gap.drift, [s]: -gap.drift }, 0);
    const about = BIG - (shifts[j] ?? 0);
    const right = (gap.zoneOffset + change.slip) / unit;
    if (change.kind === 'loss') row({ [q]: 1, [s]: 1 }, reset + about, reset + about);
    else if (change.kind !== 'unexplained')
      row({ [q]: 1 }, right - 300_000 / unit + about, right + 300_000 / unit + about);
  }
  const constraints: Record<string, { min?: number; max?: number }> = {};
  const variables: Record<string, Record<string, number>> = {};
  rows.forEach((r, k) => {
    constraints[`c${k}`] = {
      ...(r.min === undefined ? {} : { min: r.min }),
      ...(r.max === undefined ? {} : { max: r.max }),
    };
    for (const [v, c] of Object.entries(r.coefficients)) {
      variables[v] ??= {};
      const column = variables[v];
      if (column) column[`c${k}`] = c;
    }
  });
  const out: { lo: number; hi: number }[] = [];
  for (let i = 1; i < n - 1; i++) {
    const goal = { ...variables, [`t${i}`]: { ...variables[`t${i}`], goal: 1 } };
    const ends = (['minimize', 'maximize'] as const).map((direction) =>
      solve({ direction, objective: 'goal', constraints, variables: goal }),
    );
    if (ends.some((e) => e.status !== 'optimal')) return undefined;
    out.push({ lo: base + unit * (ends[0]?.result ?? 0), hi: base + unit * (ends[1]?.result ?? 0) });
  }
  return out;
}

/** The bounds that cover every story which costs at most 3 more than the cheapest, and the cheapest cost. */
export function exhaustive(gap: SmallGap, mostChanges: number): { best: number; bounds: { lo: number; hi: number }[] } {
  const stories: { cost: number; bounds: { lo: number; hi: number }[] }[] = [];
  const boundaries = gap.tests.length + 1;
  const extend = (from: number, changes: Begin[], cost: number): void => {
    const bounds = boundsOf(gap, changes);
    if (bounds) stories.push({ cost, bounds });
    if (changes.length === mostChanges) return;
    for (let at = from; at < boundaries; at++) {
      for (const k of KINDS) {
        for (const slip of k.slips) {
          const more = cost + k.cost + (changes.length === 0 ? 2 : 0);
          if (more <= 13) extend(at + 1, [...changes, { at, kind: k.kind, slip }], more);
        }
      }
    }
  };
  extend(0, [], 0);
  const best = Math.min(...stories.map((s) => s.cost));
  const bounds = gap.tests.map((_, i) => {
    const near = stories.filter((s) => s.cost <= best + 3);
    return {
      lo: Math.min(...near.map((s) => s.bounds[i]?.lo ?? 0)),
      hi: Math.max(...near.map((s) => s.bounds[i]?.hi ?? 0)),
    };
  });
  return { best, bounds };
}
