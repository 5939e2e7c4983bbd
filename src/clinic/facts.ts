/**
 * What the clinic's arithmetic is handed: readings with their honest times, targets with their history, and nothing
 * else. Plain data, so that every figure can be made again from what stands here.
 */
import type { Instant } from '../core/instant.ts';

/** True time with honest bounds. `at` is the best estimate; a bound that is absent is open. */
export interface TimeSpan {
  readonly at: Instant;
  readonly earliest?: Instant;
  readonly latest?: Instant;
}

/** The span of a time of which an estimate or a bound is known; undefined where nothing is. */
export function timeSpan(known: {
  readonly takenAt?: Instant;
  readonly earliest?: Instant;
  readonly latest?: Instant;
}): TimeSpan | undefined {
  const { takenAt, earliest, latest } = known;
  const at = takenAt ?? earliest ?? latest;
  return at === undefined
    ? undefined
    : { at, ...(earliest !== undefined && { earliest }), ...(latest !== undefined && { latest }) };
}

/** The local date of an instant, `YYYY-MM-DD`, in the zone of the clinic. */
export type LocalDate = (at: Instant) => string;

/** One value of a person's course, such as an INR. Void and held readings are not in a course. */
export interface CoursePoint {
  /** The reading's id, or that of a laboratory value. */
  readonly id: string;
  readonly time: TimeSpan;
  /** The number shown. */
  readonly value: number;
  /** Set where the true value lies beyond the number shown. */
  readonly beyond?: '<' | '>';
}

/** A target range, limits inclusive, in force from a moment until the next one of the same person. */
export interface Target {
  readonly from: Instant;
  readonly low: number;
  readonly high: number;
}

/** A target range whose limits are texts, as they were written down. */
export const targetOf = (written: { readonly from: Instant; readonly low: string; readonly high: string }): Target => ({
  from: written.from,
  low: Number(written.low),
  high: Number(written.high),
});

/** Where a value comes from: stands beside every band, limit and rule set, and on every report that uses it. */
export interface Source {
  /** Name of the rule set or standard, such as `Rosendaal 1993`. */
  readonly name: string;
  /** Edition, year or version. */
  readonly edition: string;
  /** Where it was read; `from memory` or `common practice, no source` where that is so. */
  readonly citation: string;
}
