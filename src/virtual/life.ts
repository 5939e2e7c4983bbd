/**
 * What will happen to one meter over a year or so, as a plan in the order of true time: when tests are made, when
 * power is lost, when people set the clock and how wrongly, when results are deleted and when the meter is docked.
 * What comes of it is the work of `history`.
 */
import { type Instant, instant } from '../core/instant.ts';
import { wall } from '../core/meter-time.ts';
import type { Zone } from '../core/zone.ts';
import type { Chance } from './chance.ts';

/**
 * `drift-only`: the clock drifts. `loss`: power losses that nobody corrects. `human`: losses corrected by hand, mostly
 * rightly, and people who follow summer time. `mixed`: all of it, with deletions, small memories and cut downloads.
 */
export type World = 'drift-only' | 'loss' | 'human' | 'mixed';
export const WORLDS = ['drift-only', 'loss', 'human', 'mixed'] as const satisfies readonly World[];

/** How somebody set a clock: `right` within three minutes, `summer-time` by the hour alone, else a slip. */
export type Setting = 'right' | 'hour' | 'twelve-hours' | 'day-month' | 'year' | 'summer-time';

/** Something that happens to a meter. */
export type Happening =
  | { readonly kind: 'test'; readonly at: Instant }
  | { readonly kind: 'power-loss'; readonly at: Instant }
  | { readonly kind: 'hand-setting'; readonly at: Instant; readonly how: Setting }
  | { readonly kind: 'delete-one'; readonly at: Instant }
  | { readonly kind: 'delete-all'; readonly at: Instant }
  | { readonly kind: 'factory-reset'; readonly at: Instant }
  /** `pulled`: how far the download comes before the cable is pulled, as a share of its bytes. */
  | { readonly kind: 'visit'; readonly at: Instant; readonly pulled?: number };

export interface LifeOptions {
  readonly world: World;
  readonly use: 'home' | 'shared';
  readonly zone: Zone;
  readonly from: Instant;
  readonly days: number;
}

const MINUTE_MS = 60_000;
const HOUR_MS = 3_600_000;
const DAY_MS = 86_400_000;
/** A usual year of 400 days: rates below are per this span. */
const YEAR_DAYS = 400;

/** Draws a life. In the order of time. */
export function planLife(chance: Chance, options: LifeOptions): Happening[] {
  const happenings = [
    ...(options.use === 'home' ? homeTests(chance, options) : sharedTests(chance, options)),
    ...visits(chance, options),
    ...clockTroubles(chance, options),
    ...(options.world === 'mixed' ? deletions(chance, options) : []),
  ];
  return happenings.sort((a, b) => a.at - b.at);
}

/** The instant of an hour on a local day, counted from the beginning; from day 1 on it lies after the beginning. */
function localMoment({ zone, from }: LifeOptions, day: number, hour: number): Instant {
  const midnight = Math.floor(zone.wallAt(instant(from + day * DAY_MS)) / DAY_MS) * DAY_MS;
  const moment = zone.momentOf(wall(midnight + Math.round(hour * HOUR_MS)));
  return moment.kind === 'unique' ? moment.at : moment.earlier;
}

/** About 64 tests in 400 days at somebody's usual hour; some are repeated within minutes, some come in a bad week. */
function homeTests(chance: Chance, options: LifeOptions): Happening[] {
  const tests: Happening[] = [];
  const usualHour = chance.between(7, 21);
  let day = chance.between(1, 8);
  while (day < options.days) {
    let at: number = localMoment(options, Math.floor(day), usualHour + chance.normal(0, 0.8));
    tests.push({ kind: 'test', at: instant(at) });
    while (chance.happens(0.1)) {
      at += chance.between(2, 25) * MINUTE_MS;
      tests.push({ kind: 'test', at: instant(Math.round(at)) });
    }
    const rhythm = chance.next();
    day += rhythm < 0.75 ? 7 + chance.whole(-1, 1) : rhythm < 0.95 ? chance.whole(2, 4) : chance.whole(9, 16);
  }
  return tests;
}

/** A few to a dozen tests each working day in the hours of a clinic. */
function sharedTests(chance: Chance, options: LifeOptions): Happening[] {
  const tests: Happening[] = [];
  for (let day = 1; day < options.days; day++) {
    if (day % 7 >= 5) continue;
    const count = chance.whole(2, 11);
    const hours = Array.from({ length: count }, () => chance.between(8, 17)).sort((a, b) => a - b);
    for (const hour of hours) tests.push({ kind: 'test', at: localMoment(options, day, hour) });
  }
  return tests;
}

/** Every 3 to 10 weeks, a shared meter every 5 to 21 days. In the mixed world some end early and some of those are done again. */
function visits(chance: Chance, options: LifeOptions): Happening[] {
  const out: Happening[] = [];
  const [shortest, longest] = options.use === 'home' ? [21, 70] : [5, 21];
  for (let day = chance.between(1, 40); day < options.days; day += chance.between(shortest, longest)) {
    const at = localMoment(options, Math.floor(day), chance.between(8, 18));
    const isCut = options.world === 'mixed' && chance.happens(0.18);
    out.push(isCut ? { kind: 'visit', at, pulled: chance.next() } : { kind: 'visit', at });
    if (isCut && chance.happens(0.6)) {
      out.push({ kind: 'visit', at: instant(at + Math.round(chance.between(1, 12) * MINUTE_MS)) });
    }
  }
  return out;
}

function clockTroubles(chance: Chance, options: LifeOptions): Happening[] {
  if (options.world === 'drift-only') return [];
  const people = options.world !== 'loss';
  const out: Happening[] = [];
  const losses = (options.world === 'mixed' ? 0 : 1) + atRandom(chance, options, 1.5).length;
  for (let i = 0; i < losses; i++) {
    const at = randomMoment(chance, options);
    out.push({ kind: 'power-loss', at });
    if (people) out.push(...correction(chance, at));
  }
  if (!people) return out;
  // Now and then somebody sees that the clock is off and puts it right.
  for (const at of atRandom(chance, options, 0.3)) out.push({ kind: 'hand-setting', at, how: handOrSlip(chance) });
  if (chance.happens(0.5)) out.push(...summerTime(chance, options));
  return out;
}

/** After a loss: most set the clock with the new batteries, some before the next test, some forget for days or for good. */
function correction(chance: Chance, lostAt: Instant): Happening[] {
  const kind = chance.next();
  if (kind > 0.92) return [];
  const waitMs =
    kind < 0.6
      ? chance.between(0.5, 20) * MINUTE_MS
      : kind < 0.75
        ? chance.between(0.5, 40) * HOUR_MS
        : chance.between(1, 14) * DAY_MS;
  const at = instant(Math.round(lostAt + waitMs));
  const how = handOrSlip(chance);
  const out: Happening[] = [{ kind: 'hand-setting', at, how }];
  if (how !== 'right' && chance.happens(0.3)) {
    const noticedAt = instant(Math.round(at + chance.wait(10) * DAY_MS));
    out.push({ kind: 'hand-setting', at: noticedAt, how: 'right' });
  }
  return out;
}

const handOrSlip = (chance: Chance): Setting =>
  chance.happens(0.8) ? 'right' : chance.pick(['hour', 'twelve-hours', 'day-month', 'year']);

/** Somebody who moves the clock by the hour within some days of each change of summer time, and forgets it now and then. */
function summerTime(chance: Chance, { zone, from, days }: LifeOptions): Happening[] {
  const changes = zone.stretches(from, instant(from + days * DAY_MS)).slice(1);
  return changes.flatMap((stretch): Happening[] => {
    const at = instant(Math.round(stretch.from + chance.between(0.1, 6) * DAY_MS));
    return chance.happens(0.85) ? [{ kind: 'hand-setting', at, how: 'summer-time' }] : [];
  });
}

/** People delete a result that they do not trust; rarely everything; very rarely the meter is reset. */
function deletions(chance: Chance, options: LifeOptions): Happening[] {
  const each = (kind: 'delete-one' | 'delete-all' | 'factory-reset', mean: number): Happening[] =>
    atRandom(chance, options, mean).map((at) => ({ kind, at }));
  return [...each('delete-one', 1.2), ...each('delete-all', 0.06), ...each('factory-reset', 0.06)];
}

const randomMoment = (chance: Chance, { from, days }: LifeOptions): Instant =>
  instant(Math.round(from + chance.between(0, days) * DAY_MS));

/** Moments of a Poisson process with this mean number in 400 days. */
function atRandom(chance: Chance, { from, days }: LifeOptions, mean: number): Instant[] {
  const out: Instant[] = [];
  const apartDays = YEAR_DAYS / mean;
  for (let day = chance.wait(apartDays); day < days; day += chance.wait(apartDays)) {
    out.push(instant(Math.round(from + day * DAY_MS)));
  }
  return out;
}
