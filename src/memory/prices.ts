/** The parts of an explanation's cost that depend on where a test stands: new ones, and the oldest that are gone. */
import { ALL_DELETED, BACKDATED, NEW_IN_MIDDLE, PERHAPS_OVERWRITTEN, RUN_RESTART, RUN_REUSED } from './costs.ts';
import { APART, type Relations } from './relations.ts';
import type { Sighting } from './same.ts';
import type { Standing } from './standing.ts';
import type { Question } from './steps.ts';

export interface NewCosts {
  /** Cost of calling the told test new, in front of the known item at an index. */
  cost(known: number, told: number): number;
  /** How many neighbours speak against its place there by running number or stamp: decides only where costs are even. */
  ties(known: number, told: number): number;
}

/** Prices new tests: free behind everything known and in a gap, but for likeness to known ones and restarted numbers. */
export function newCosts(question: Question, relations: Relations): NewCosts {
  const { known, sightings } = question;
  const isBackdated = sightings.map((told) => told !== undefined && isStampedBefore(question, told));
  const atEnd = sightings.map((told, t) => {
    // Neighbours that are stamped too early were made in one stretch of a wrong clock.
    const excursion = isBackdated[t] === true && isBackdated[t - 1] !== true;
    return told ? restartCost(question, relations, told, t) + (excursion ? BACKDATED : 0) : 0;
  });
  const before = neighbours(known);
  const behind = neighbours([...known].reverse()).reverse();
  return {
    cost(k, t) {
      const repeat = relations.repeatCost(t);
      const item = known[k];
      if (item?.kind === 'place') return repeat + NEW_IN_MIDDLE;
      if (item === undefined) return repeat + (atEnd[t] ?? 0);
      const told = sightings[t];
      const fits = !runGoesBack(before[k], told) && !runGoesBack(told, behind[k]);
      return fits ? repeat : repeat + RUN_RESTART;
    },
    ties(k, t) {
      const told = sightings[t];
      if (!told || known[k]?.kind === 'place') return 0;
      // A gap was left by an earlier download: what sits in it was made before, and what is newest was made since.
      const wrongSide = question.clock.stampedWhen(told) === (known[k] ? 'since' : 'before');
      return Number(isLater(before[k], told)) + Number(isLater(told, behind[k])) + Number(wrongSide);
    },
  };
}

/** For every index 0 … length: the nearest place in front of it. */
function neighbours(known: readonly Standing[]): (Sighting | undefined)[] {
  const out: (Sighting | undefined)[] = [undefined];
  for (const item of known) out.push(item.kind === 'place' ? item.tests.at(-1) : out.at(-1));
  return out;
}

const runGoesBack = (a: Sighting | undefined, b: Sighting | undefined): boolean =>
  (a?.record.runNumber ?? 0) >= (b?.record.runNumber ?? Number.POSITIVE_INFINITY);

/** True where running numbers, or else stamps, say that `a` was made after `b`. */
function isLater(a: Sighting | undefined, b: Sighting | undefined): boolean {
  if (!a || !b) return false;
  const [x, y] = [a.record, b.record];
  if (x.runNumber !== undefined && y.runNumber !== undefined) return x.runNumber > y.runNumber;
  return x.meterTime !== undefined && y.meterTime !== undefined && x.meterTime.wall > y.meterTime.wall;
}

/** A test that neither its number nor a power loss shows to be new is stamped before the last download. */
const isStampedBefore = ({ clock, highestRun }: Question, told: Sighting): boolean =>
  clock.isBackdated(told) &&
  !clock.mayRepeat(told) &&
  !((told.record.runNumber ?? 0) > (highestRun ?? Number.POSITIVE_INFINITY));

/** Cost of a used running number on a test that is newer than everything known. */
function restartCost(
  { highestRun, known, sightings }: Question,
  relations: Relations,
  told: Sighting,
  t: number,
): number {
  const run = told.record.runNumber;
  if (run === undefined || highestRun === undefined || run > highestRun) return 0;
  const previous = sightings[t - 1]?.record.runNumber;
  if (previous === undefined || previous >= run) return RUN_RESTART;
  const previousIsKnown = known.some((_, k) => isLikely(relations.at(k, t - 1)));
  return previousIsKnown ? RUN_RESTART + RUN_REUSED : 0;
}

/** For every count of known items: how many places are among them. */
export function countPlaces({ known }: Question): number[] {
  const counts = [0];
  for (const item of known) counts.push((counts.at(-1) ?? 0) + Number(item.kind === 'place'));
  return counts;
}

/** The same test, or a conflict that costs less than a restart. */
const isLikely = (relation: number): boolean => relation !== APART && relation < RUN_RESTART;

/** What it costs that so many of the oldest places of the memory are gone. */
export function oldestGoneCost({ overwritable }: Question, places: number): number {
  if (places === 0) return 0;
  if (overwritable === undefined) return PERHAPS_OVERWRITTEN;
  return places <= overwritable ? 0 : ALL_DELETED;
}
