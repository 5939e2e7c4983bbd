/**
 * The day on which a meter's memory will overwrite results that nobody has read.
 *
 * After a complete download everything in the memory is known; the first result that can be lost is overwritten by the
 * test after as many tests as the memory holds. When that test comes is forecast from the meter's own pace: tests come
 * as a Poisson process whose rate is known only from n tests in T days, so it is gamma distributed (n + 1/2 over T, after
 * Jeffreys). The wait W for the r-th further test is then gamma over gamma, and W / (W + T) beta distributed with r and
 * n + 1/2: the cautious day is a low quantile of it, later than the truth only so often as said. Clumped use (a clinic's
 * weekdays, a holiday) divides both by how much more the counts vary than chance, as quasi-Poisson fits do.
 * Source: Gelman and others, Bayesian Data Analysis, section 2.6 (gamma–Poisson; from memory); W by its definition.
 */
import { type Instant, instant } from '../../core/instant.ts';
import type { MeterHabits } from '../rules/meter-habits.ts';
import { betaQuantile } from '../statistics/beta.ts';
import { type Pace, paceOf } from './pace.ts';

/** What is known of one meter's memory and use. */
export interface MemoryFacts {
  /** How many results it holds; absent where the meter does not tell. */
  readonly capacity?: number;
  /**
   * The last download after which it is known how many results lay unread: none after a complete one. A meter that was
   * never read completely may be given with all that it says it holds. Absent: never read.
   */
  readonly read?: { readonly at: Instant; readonly unread: number };
  /** When its known tests were made, of every kind: all of them take room. */
  readonly tests: readonly Instant[];
}

/**
 * `never-read`: no download to count from; `no-capacity`: the meter does not tell and none is to be assumed; `no-pace`:
 * less than a day of use is known.
 */
export type OverwriteForecast =
  | { readonly kind: 'unknown'; readonly why: 'never-read' | 'no-capacity' | 'no-pace'; readonly sentence: string }
  | {
      readonly kind: 'forecast';
      /** Tests that still fit before an unread result is overwritten, counted from the last download. */
      readonly room: number;
      /** True where the capacity is common practice and not the meter's word. */
      readonly isCapacityAssumed: boolean;
      readonly pace: Pace;
      /** At the pace so far; absent where no test was made in the stretch. */
      readonly expectedAt?: Instant;
      /** Read the meter before this. */
      readonly cautiousAt: Instant;
      /** True where the cautious day is over: results may have been lost. */
      readonly isPast: boolean;
      readonly sentence: string;
    };

const DAY = 86_400_000;
const UNKNOWN = {
  'never-read': 'This meter was never read, so nothing can be said of its memory.',
  'no-capacity': 'This meter does not say how many results it holds.',
  'no-pace': 'Too little is known of how often this meter is used.',
} as const;

/** Forecasts when a meter overwrites what nobody has read. */
export function forecastOverwrite(facts: MemoryFacts, now: Instant, habits: MeterHabits): OverwriteForecast {
  const unknown = (why: keyof typeof UNKNOWN): OverwriteForecast => ({ kind: 'unknown', why, sentence: UNKNOWN[why] });
  const { read } = facts;
  if (!read) return unknown('never-read');
  const capacity = facts.capacity ?? habits.assumedCapacity;
  if (capacity === undefined) return unknown('no-capacity');
  const pace = paceOf(facts.tests, read.at, habits.paceDays);
  if (!pace) return unknown('no-pace');
  const room = Math.max(0, capacity - read.unread);
  const cautiousAt = later(read.at, waitBefore(pace, room + 1, 1 - habits.confidence));
  const isPast = cautiousAt <= now;
  const isCapacityAssumed = facts.capacity === undefined;
  return {
    kind: 'forecast',
    room,
    isCapacityAssumed,
    pace,
    ...(pace.tests > 0 && { expectedAt: later(read.at, ((room + 1) * pace.days) / pace.tests) }),
    cautiousAt,
    isPast,
    sentence: sentenceOf(Math.floor((cautiousAt - now) / DAY), isPast, isCapacityAssumed ? capacity : undefined),
  };
}

/** Days within which so many further tests come only with the probability `chance`. */
export function waitBefore({ tests, days, clumping }: Pace, further: number, chance: number): number {
  const x = betaQuantile(chance, further / clumping, (tests + 0.5) / clumping);
  return (days * x) / (1 - x);
}

/** Days after; capped at what a date can hold, for a meter that is hardly used at all. */
const later = (at: Instant, days: number): Instant => instant(Math.min(at + Math.round(days * DAY), 8.64e15));

function sentenceOf(days: number, isPast: boolean, assumed: number | undefined): string {
  const basis = assumed === undefined ? '' : ` It does not say how many it holds: ${assumed} is taken, as is usual.`;
  if (isPast) return `This meter may already have overwritten results that were never read.${basis}`;
  if (days > 365) return `This meter has room for more than a year.${basis}`;
  const when = days === 0 ? 'today' : `within ${days} ${days === 1 ? 'day' : 'days'}`;
  return `Read this meter ${when}: after that it may overwrite results that were never read.${basis}`;
}
