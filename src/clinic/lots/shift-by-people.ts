/**
 * Lot-to-lot shift from people's own courses: each person who goes from one strip lot to the next is compared with
 * themselves.
 *
 * The estimator. A person counts as the median of their nearest values after the change minus the median of their
 * nearest values before it: near, because care brings an INR back to its target within weeks and so hides a shift;
 * several, because a single INR varies by a tenth by itself; the median, because one odd value must not make a person.
 * A straight line through the values before and after would need tests of the old lot on both sides, which a change of
 * lot does not leave. Over people the figure is the estimate of Hodges & Lehmann with its interval, since dose changes
 * make long tails; mean and t interval stand beside it. Everyone counts once, at their first change, so that persons stay
 * independent. What happened to all of them at that time (a season, a new guideline) cannot be told from the strips.
 */
import type { Instant } from '../../core/instant.ts';
import { groupBy } from '../group-by.ts';
import type { LotHabits } from '../rules/lot-habits.ts';
import { median } from '../statistics/descriptive.ts';
import { type Estimate, meanInterval } from '../statistics/intervals.ts';
import { hodgesLehmann } from '../statistics/signed-rank.ts';
import { isShift, shiftSentence } from './shift-words.ts';

/** One patient's test with the lot of its strip. Values off the measuring range are not handed in. */
export interface LotResult {
  readonly person: string;
  readonly lot: string;
  readonly value: number;
  readonly at: Instant;
}

/** One person across the change of lot. */
export interface PersonShift {
  readonly person: string;
  readonly before: number;
  readonly after: number;
  readonly difference: number;
  /** How many values each side is made of. */
  readonly values: { readonly before: number; readonly after: number };
}

/** A shift between two lots, in the unit of the values, positive where the later lot reads higher. */
export interface ShiftByPeople {
  readonly from: string;
  readonly to: string;
  readonly people: readonly PersonShift[];
  /** Hodges–Lehmann with the exact interval; absent where there are too few people for one. */
  readonly middle?: Estimate;
  /** Mean with its t interval; absent below two people. */
  readonly mean?: Estimate;
  /** True where the interval of `middle` leaves zero out. */
  readonly isShift: boolean;
  readonly sentence: string;
}

const DAY = 86_400_000;

/** The shift from lot `from` to lot `to` by the people who changed from the one to the other. */
export function shiftByPeople(
  results: readonly LotResult[],
  from: string,
  to: string,
  habits: LotHabits,
): ShiftByPeople {
  const people = [...groupBy(results, (r) => r.person)].flatMap(([person, own]) =>
    crossing(person, own, from, to, habits),
  );
  const differences = people.map((p) => p.difference);
  const middle = hodgesLehmann(differences, habits.confidence);
  const mean = meanInterval(differences, habits.confidence);
  return {
    from,
    to,
    people,
    ...(middle && { middle }),
    ...(mean && { mean }),
    isShift: isShift(middle),
    sentence: shiftSentence(from, to, middle, `${people.length} people`, people.length < habits.cautionBelow),
  };
}

/** The person's first change straight from the one lot to the other. */
function crossing(
  person: string,
  own: readonly LotResult[],
  from: string,
  to: string,
  { windowDays, nearest }: LotHabits,
): PersonShift[] {
  const course = own.toSorted((a, b) => a.at - b.at);
  const first = course.findIndex((r, i) => r.lot === to && course[i - 1]?.lot === from);
  const change = course[first];
  if (!change) return [];
  const near = (r: LotResult): boolean => Math.abs(r.at - change.at) <= windowDays * DAY;
  const earlier = course.slice(0, first).reverse();
  const later = course.slice(first);
  const unbroken = (list: readonly LotResult[], lot: string): number[] => {
    const end = list.findIndex((r) => r.lot !== lot || !near(r));
    return list
      .slice(0, end === -1 ? list.length : end)
      .slice(0, nearest)
      .map((r) => r.value);
  };
  const before = unbroken(earlier, from);
  const after = unbroken(later, to);
  if (before.length === 0) return [];
  const [low, high] = [median(before), median(after)];
  const values = { before: before.length, after: after.length };
  return [{ person, before: low, after: high, difference: high - low, values }];
}
