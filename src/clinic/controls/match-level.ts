/**
 * Finds which control a control test was, where the meter does not say it in full. By value only where no doubt is
 * left: to guess the nearest level would turn a failed control of one level into a good one of another.
 */
import { isExpired } from '../lots/expiry.ts';
import type { ControlReading } from './control-reading.ts';
import { type ControlLevel, statedLimits, zScore } from './level.ts';

/** Farther than this from a mean, in standard deviations, a value does not count as that level's (rule 1-3s). */
const WITHIN_SD = 3;

/**
 * `told`: meter or person named it; `by-value`: only one level in question has the value within its limits.
 * `unassigned` is for a person to say: `no-level`: none is defined that could be meant; `ambiguous`: the value fits
 * several; `outside-all`: it fits none, so it failed whichever it was.
 */
export type LevelMatch =
  | { readonly kind: 'told' | 'by-value'; readonly level: ControlLevel }
  | {
      readonly kind: 'unassigned';
      readonly why: 'no-level' | 'ambiguous' | 'outside-all';
      readonly candidates: readonly ControlLevel[];
    };

/** The levels that a control test was, or could be. */
export const levelsInQuestion = (match: LevelMatch): readonly ControlLevel[] =>
  match.kind === 'unassigned' ? match.candidates : [match.level];

/**
 * Matches a control test with the levels that are in use. Whatever the test tells (analyte, kind, control lot, level)
 * must agree. If the level was told and only one lot of it is left, it is `told`; else the value decides. `day` is the local
 * date of the test: levels that had expired by then are in question only where their lot was told.
 */
export function matchLevel(reading: ControlReading, levels: readonly ControlLevel[], day: string): LevelMatch {
  const candidates = levels.filter(
    (l) =>
      l.analyte === reading.analyte &&
      (reading.kind === undefined || l.kind === reading.kind) &&
      (reading.level === undefined || l.level === reading.level) &&
      (reading.controlLot === undefined
        ? l.expiry === undefined || !isExpired(l.expiry, day)
        : l.lot === reading.controlLot),
  );
  const [first, second] = candidates;
  if (!first) return { kind: 'unassigned', why: 'no-level', candidates };
  if (!second && reading.level !== undefined) return { kind: 'told', level: first };
  // A value off the measuring range lies farther out than it shows: it fits no level by value.
  const fitting = reading.beyond
    ? []
    : candidates.filter((l) => Math.abs(zScore(reading.value, statedLimits(l))) <= WITHIN_SD);
  const [fit, another] = fitting;
  if (!fit) return { kind: 'unassigned', why: 'outside-all', candidates };
  return another ? { kind: 'unassigned', why: 'ambiguous', candidates: fitting } : { kind: 'by-value', level: fit };
}
