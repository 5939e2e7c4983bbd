/** The parts of an explanation's cost that depend on where a test stands: new ones, and the oldest that are gone. */
import { DELETED_RUN, NEW_IN_MIDDLE, PERHAPS_OVERWRITTEN, RUN_RESTART, RUN_REUSED } from './costs.ts';
import { type Relations, SAME } from './relations.ts';
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
  const restarts = sightings.map((told, t) => restartCost(question, relations, told, t));
  const before = neighbours(known);
  const behind = neighbours([...known].reverse()).reverse();
  return {
    cost(k, t) {
      const repeat = relations.repeatCost(t);
      const item = known[k];
      if (item === undefined) return repeat + (restarts[t] ?? 0);
      return item.kind === 'gap' ? repeat : repeat + NEW_IN_MIDDLE;
    },
    ties(k, t) {
      const told = sightings[t];
      return Number(isLater(before[k], told)) + Number(isLater(told, behind[k]));
    },
  };
}

/** For every index 0 … length: the nearest place in front of it. */
function neighbours(known: readonly Standing[]): (Sighting | undefined)[] {
  const out: (Sighting | undefined)[] = [undefined];
  for (const item of known) out.push(item.kind === 'place' ? item.tests.at(-1) : out.at(-1));
  return out;
}

/** True where running numbers, or else stamps, say that `a` was made after `b`. */
function isLater(a: Sighting | undefined, b: Sighting | undefined): boolean {
  if (!a || !b) return false;
  const [x, y] = [a.record, b.record];
  if (x.runNumber !== undefined && y.runNumber !== undefined) return x.runNumber > y.runNumber;
  return x.meterTime !== undefined && y.meterTime !== undefined && x.meterTime.wall > y.meterTime.wall;
}

/** Cost of a used running number on a test that is newer than everything known. */
function restartCost(
  { highestRun, known, sightings }: Question,
  relations: Relations,
  told: Sighting | undefined,
  t: number,
): number {
  const run = told?.record.runNumber;
  if (run === undefined || highestRun === undefined || run > highestRun) return 0;
  const previous = sightings[t - 1]?.record.runNumber;
  if (previous === undefined || previous >= run) return RUN_RESTART;
  const previousIsKnown = known.some((_, k) => relations.at(k, t - 1) === SAME);
  return previousIsKnown ? RUN_RESTART + RUN_REUSED : 0;
}

/** For every count of known items: what it costs that all places among them are gone, the oldest ones of the memory. */
export function oldestGoneCosts({ known, overwritable }: Question): number[] {
  const costs = [0];
  let places = 0;
  for (const item of known) {
    if (item.kind === 'place') places++;
    if (places === 0) costs.push(0);
    else if (overwritable === undefined) costs.push(PERHAPS_OVERWRITTEN);
    else costs.push(places <= overwritable ? 0 : DELETED_RUN);
  }
  return costs;
}
