/**
 * The ways in which a stretch of undisturbed clock (an epoch) can have begun, each with what it says about the
 * clock's offset at that moment and about the moment itself.
 */
import { instant } from '../core/instant.ts';
import type { Zone } from '../core/zone.ts';
import { meet, type Span } from './anchors.ts';
import { CHANGE_COST, type ChangeKind, HAND_TOLERANCE_MS } from './costs.ts';

const HOUR = 3_600_000;
const DAY = 86_400_000;
const YEAR = 365.2425 * DAY;

/** One way in which an epoch can have begun. */
export interface Beginning {
  readonly kind: ChangeKind;
  readonly cost: number;
  /** When the clock was changed, true time. */
  readonly when: Span;
  /** What the clock showed when it began to run, for a power loss: ms of wall time. */
  readonly from?: number;
  /** Offset right after the change, for a hand: wall minus true time. Free for an unexplained change. */
  readonly offset?: Span;
  /**
   * By how much the change moved the clock that was running, ms: somebody pressed the hour button once, for summer time
   * or by mistake, and left minutes and seconds as they were. Such a clock is as far off as before, give or take an hour.
   */
  readonly moved?: number;
}

/** What an epoch's first stamp and the gap around it allow. */
export interface Setting {
  /** First stamp of the epoch (ms of wall time) and its resolution. */
  readonly wall: number;
  readonly resolutionMs: number;
  /** The change and the first test lie in here, true time. */
  readonly window: Span;
  readonly calendar: readonly CalendarPart[];
  readonly resets: 'new-year' | readonly number[];
  /** Greatest drift as a fraction. */
  readonly drift: number;
}

/** Stamps at which the clock can have started to run after a power loss; it has run for at most `longest` ms since. */
function resetsBefore({ wall, resolutionMs, resets }: Setting, longest: number): number[] {
  if (resets !== 'new-year') return resets.filter((d) => d < wall + resolutionMs && wall - d <= longest);
  // 1 January of any year.
  const out: number[] = [];
  for (let y = new Date(wall).getUTCFullYear(); y >= 1970; y--) {
    const d = Date.UTC(y, 0, 1);
    if (wall - d > longest) break;
    out.push(d);
  }
  return out;
}

/** Every beginning that the first stamp does not rule out. `last` is the offset of the anchor that ends the epoch, if one does. */
export function beginnings(s: Setting, last?: { readonly offset: Span; readonly wall: number }): Beginning[] {
  const out: Beginning[] = [];
  const { window } = s;
  const length = window.hi - window.lo;
  const slack = s.drift * length * 1.01 + 1;
  // Drift until the anchor at the end of the epoch.
  const tail = last ? s.drift * 1.01 * Math.max(0, last.wall - s.wall + s.resolutionMs) + 1 : 0;
  const eastmost = s.calendar.reduce((most, part) => Math.max(most, part.offset), Number.NEGATIVE_INFINITY);
  // What the clock has run since is true time that has passed since the change.
  for (const from of resetsBefore(s, (length + slack) / (1 - s.drift))) {
    // A default date is past already when a meter is made: no clock starts again at a date that is still to come.
    const past = Math.max(window.lo, from - eastmost);
    const when: Span = last
      ? {
          lo: Math.max(past, from - last.offset.hi - slack - tail),
          hi: Math.min(window.hi, from - last.offset.lo + slack + tail),
        }
      : { lo: past, hi: window.hi };
    if (when.lo <= when.hi) out.push({ kind: 'loss', cost: CHANGE_COST.loss, when, from });
  }
  const hand = (kind: ChangeKind, lo: number, hi: number, when: Span): void => {
    if (when.lo > when.hi) return;
    const offset = { lo: lo - HAND_TOLERANCE_MS, hi: hi + HAND_TOLERANCE_MS };
    if (last && (last.offset.lo > offset.hi + slack + tail || last.offset.hi < offset.lo - slack - tail)) return;
    // The first test follows the change and lies in the window.
    if (s.wall + s.resolutionMs - offset.lo + slack < when.lo) return;
    if (s.wall - offset.hi - slack > window.hi) return;
    out.push({ kind, cost: CHANGE_COST[kind], when, offset });
  };
  for (const part of s.calendar) {
    const when = meet(part.when, window);
    const o = part.offset;
    hand('set-right', o, o, when);
    for (const slip of [-HOUR, HOUR]) hand('hour', o + slip, o + slip, when);
    for (const slip of [-12 * HOUR, 12 * HOUR]) hand('half-day', o + slip, o + slip, when);
    for (const jump of part.exchanged) hand('day-month', o + jump.by, o + jump.by, meet(jump.when, window));
    const years = Math.round((s.wall - (when.lo + when.hi) / 2 - o) / YEAR);
    for (let k = years - 1; k <= years + 1; k++) {
      if (k === 0) continue;
      for (const jump of part.shifted(k)) hand('year', o + jump.by, o + jump.by, meet(jump.when, window));
    }
  }
  for (const moved of [-HOUR, HOUR]) out.push({ kind: 'hour', cost: CHANGE_COST.hour, when: window, moved });
  out.push({ kind: 'unexplained', cost: CHANGE_COST.unexplained, when: window });
  return out;
}

/** A wrongly keyed date: by how much it lies off, and on which days (true time) it can have been keyed in. */
interface DateJump {
  readonly by: number;
  readonly when: Span;
}

/** A stretch of constant zone offset in the window of a gap, with the wrong dates that can be keyed in there. */
export interface CalendarPart {
  readonly offset: number;
  readonly when: Span;
  /** Day and month exchanged. */
  readonly exchanged: readonly DateJump[];
  /** The year wrong by `k`. */
  shifted(k: number): readonly DateJump[];
}

/** The calendar of a gap: made once, used for every place at which its clock may have been set. */
export function calendarOf(window: Span, zones: readonly Zone[]): CalendarPart[] {
  const out: CalendarPart[] = [];
  const seen = new Set<string>();
  for (const zone of zones) {
    for (const s of zone.stretches(instant(window.lo), instant(window.hi))) {
      const key = `${s.offset}:${s.from}:${s.to}`;
      if (seen.has(key)) continue;
      seen.add(key);
      const when = { lo: s.from, hi: s.to };
      const years = new Map<number, readonly DateJump[]>();
      out.push({
        offset: s.offset,
        when,
        exchanged: jumps(when, s.offset, (d) => {
          const month = d.getUTCMonth() + 1;
          const day = d.getUTCDate();
          return day <= 12 && day !== month ? Date.UTC(d.getUTCFullYear(), day - 1, month) : undefined;
        }),
        shifted(k) {
          const known = years.get(k);
          if (known) return known;
          const made = jumps(when, s.offset, (d) => {
            const to = Date.UTC(d.getUTCFullYear() + k, d.getUTCMonth(), d.getUTCDate());
            // 29 February cannot be keyed in for a year that has none.
            return d.getUTCDate() === 29 && new Date(to).getUTCDate() !== 29 ? undefined : to;
          });
          years.set(k, made);
          return made;
        },
      });
    }
  }
  return out;
}

/** The jump for each local day of a stretch; days in a row with the same jump are one. */
function jumps(when: Span, offset: number, keyedIn: (day: Date) => number | undefined): DateJump[] {
  const out: DateJump[] = [];
  const firstDay = Math.floor((when.lo + offset) / DAY) * DAY;
  const date = new Date(0); // one for all days: there can be a thousand
  for (let day = firstDay; day <= when.hi + offset; day += DAY) {
    date.setTime(day);
    const to = keyedIn(date);
    if (to === undefined) continue;
    const by = to - day;
    const span = { lo: Math.max(when.lo, day - offset), hi: Math.min(when.hi, day + DAY - 1 - offset) };
    const before = out.at(-1);
    if (before && before.by === by && span.lo - before.when.hi <= 1)
      out[out.length - 1] = { by, when: { lo: before.when.lo, hi: span.hi } };
    else out.push({ by, when: span });
  }
  return out;
}
