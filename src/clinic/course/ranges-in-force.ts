/**
 * The ranges of a course over time, and how much of a straight line between two tests lies below, in and above them.
 * A range that changes between two tests splits the line at the moment of the change.
 */
import type { Target } from '../facts.ts';

/** Limits, inclusive, in force from a moment (minus infinity: always) until the next range begins. */
export interface RangeInForce {
  readonly from: number;
  readonly low: number;
  readonly high: number;
}

/** Parts of a line, adding up to 1. `none`: no range was in force. */
export interface Shares {
  readonly below: number;
  readonly in: number;
  readonly above: number;
  readonly none: number;
}

/** A value at a time, ms. */
export interface LinePoint {
  readonly at: number;
  readonly value: number;
}

/** The ranges of targets in order. A target that repeats the limits before it is no change. */
export function rangesOf(targets: readonly Target[]): RangeInForce[] {
  const effective = targets.filter((target, i) => targets[i + 1]?.from !== target.from);
  return effective.filter(({ low, high }, i) => low !== effective[i - 1]?.low || high !== effective[i - 1]?.high);
}

/** The parts of the straight line from `a` to `b` (not before it). Of a line without length: where its values would lie then. */
export function sharesOf(a: LinePoint, b: LinePoint, ranges: readonly RangeInForce[]): Shares {
  const length = b.at - a.at;
  const valueAt = (at: number): number =>
    at >= b.at ? b.value : a.value + ((b.value - a.value) * (at - a.at)) / length;
  let below = 0;
  let inside = 0;
  let above = 0;
  let covered = 0;
  for (const [i, range] of ranges.entries()) {
    const until = ranges[i + 1]?.from ?? Number.POSITIVE_INFINITY;
    const from = Math.max(a.at, range.from);
    const to = Math.min(b.at, until);
    const part = length > 0 ? Math.max(0, to - from) / length : range.from <= a.at && a.at < until ? 1 : 0;
    if (part === 0) continue;
    const shares = length > 0 ? partsOf(valueAt(from), valueAt(to), range) : partsOf(a.value, b.value, range);
    below += part * shares.below;
    inside += part * shares.in;
    above += part * shares.above;
    covered += part;
  }
  return { below, in: inside, above, none: Math.max(0, 1 - covered) };
}

/**
 * A straight line from one value to another against fixed limits: the continuous form of Rosendaal's method (Thromb
 * Haemost 1993;69:236, from memory). A level line on a limit is in range.
 */
function partsOf(from: number, to: number, { low, high }: RangeInForce): Omit<Shares, 'none'> {
  const bottom = Math.min(from, to);
  const top = Math.max(from, to);
  if (bottom >= low && top <= high) return { below: 0, in: 1, above: 0 };
  if (top < low) return { below: 1, in: 0, above: 0 };
  if (bottom > high) return { below: 0, in: 0, above: 1 };
  const below = Math.max(0, low - bottom) / (top - bottom);
  const above = Math.max(0, top - high) / (top - bottom);
  return { below, in: Math.max(0, 1 - below - above), above };
}
