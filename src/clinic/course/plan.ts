/**
 * Tests planned and done. A person has one interval, such as weekly; the next test is planned so many local dates after
 * the last one.
 */
import type { Instant } from '../../core/instant.ts';
import type { LocalDate } from '../facts.ts';
import { type DatedPoint, dateOf, dayOf } from './dated-point.ts';
import { type Figure, known, notCalculable } from './figure.ts';

/** What a plan is reckoned from, beside the tests. */
export interface PlanBy {
  readonly now: Instant;
  readonly localDate: LocalDate;
  /** A test every so many days. Absent: no plan. */
  readonly everyDays?: number;
  /** When planned testing began. Absent: with the first test. */
  readonly since?: Instant;
  /** Nobody should go longer without a test. */
  readonly longestDays: number;
}

export interface Plan {
  readonly everyDays?: number;
  /** The last test; absent before the first. */
  readonly last?: { readonly id: string; readonly at: Instant; readonly date: string; readonly daysSince: number };
  /** `YYYY-MM-DD`; absent without a plan, or where nothing tells when it began. */
  readonly nextDate?: string;
  /** Days past the planned date; 0 up to that date and without a plan. */
  readonly overdueDays: number;
  /** True where the last test is longer ago than anybody should go without. */
  readonly isTooLong: boolean;
  readonly longestDays: number;
  /** Planned tests whose time is over, and how many of them were made. */
  readonly kept: { readonly planned: number; readonly done: number; readonly fraction: Figure };
}

/** The plan as of now. Tests in order. */
export function planOf(tests: readonly DatedPoint[], { now, localDate, everyDays, since, longestDays }: PlanBy): Plan {
  const today = dayOf(localDate(now));
  const past = tests.filter(({ time: { at } }) => at <= now);
  const last = past.at(-1);
  const began = since === undefined ? past[0]?.day : dayOf(localDate(since));
  const next = everyDays === undefined ? undefined : last ? last.day + everyDays : began;
  const daysSince = last ? today - last.day : 0;
  return {
    ...(everyDays !== undefined && { everyDays }),
    ...(last && { last: { id: last.id, at: last.time.at, date: last.date, daysSince } }),
    ...(next !== undefined && { nextDate: dateOf(next) }),
    overdueDays: next === undefined ? 0 : Math.max(0, today - next),
    isTooLong: daysSince > longestDays,
    longestDays,
    kept: keptOf(past, everyDays, began, today),
  };
}

/**
 * Each planned test owns the dates nearest to its own: a weekly one three days either way. It is kept if there is a test
 * on any of them, and counts once they are over.
 */
function keptOf(
  tests: readonly DatedPoint[],
  everyDays: number | undefined,
  began: number | undefined,
  today: number,
): Plan['kept'] {
  const none = { planned: 0, done: 0 };
  if (everyDays === undefined || began === undefined)
    return { ...none, fraction: notCalculable('nothing-planned', 'No tests are planned.') };
  const turnOf = (day: number): number => Math.floor((day - began + Math.floor(everyDays / 2)) / everyDays);
  const planned = Math.max(0, turnOf(today));
  if (planned === 0) return { ...none, fraction: notCalculable('nothing-planned', 'No planned test is over yet.') };
  const turns = new Set(tests.map(({ day }) => turnOf(day)).filter((turn) => turn >= 0 && turn < planned));
  return { planned, done: turns.size, fraction: known(turns.size / planned) };
}
