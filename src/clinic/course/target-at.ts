/** Which target range is in force when. */
import type { Instant } from '../../core/instant.ts';
import type { Target, TimeSpan } from '../facts.ts';

/** Targets in the order in which they came into force; of the same moment the one given last counts. */
export const targetsInOrder = (targets: readonly Target[]): Target[] => targets.toSorted((a, b) => a.from - b.from);

/** The target in force at a moment, which may be the moment of its change; undefined before the first. Targets in order. */
export const targetAt = <T extends { readonly from: Instant }>(targets: readonly T[], at: Instant): T | undefined =>
  targets.findLast(({ from }) => from <= at);

/** Every target that may be in force at a time with bounds; undefined among them where there may be none. Targets in order. */
export function targetsWithin(targets: readonly Target[], { at, earliest, latest }: TimeSpan): (Target | undefined)[] {
  const from = Math.min(earliest ?? Number.NEGATIVE_INFINITY, at);
  const until = Math.max(latest ?? Number.POSITIVE_INFINITY, at);
  return [
    targets.findLast((target) => target.from <= from),
    ...targets.filter((target) => target.from > from && target.from <= until),
  ];
}
