/** Which target range is in force when. */
import type { Instant } from '../../core/instant.ts';
import type { Target, TimeSpan } from '../facts.ts';
import { boundsIn } from './dated-point.ts';

/** Targets in the order in which they came into force; of the same moment the one given last counts. */
export const targetsInOrder = (targets: readonly Target[]): Target[] => targets.toSorted((a, b) => a.from - b.from);

/** The target in force at a moment, which may be the moment of its change; undefined before the first. Targets in order. */
export const targetAt = <T extends { readonly from: Instant }>(targets: readonly T[], at: Instant): T | undefined =>
  targets.findLast(({ from }) => from <= at);

/** Every target that may be in force at a time with bounds; undefined among them where there may be none. Targets in order. */
export function targetsWithin(targets: readonly Target[], time: TimeSpan): (Target | undefined)[] {
  const { earliest, latest } = boundsIn(time);
  return [
    targets.findLast((target) => target.from <= earliest),
    ...targets.filter(
      ({ from }, i) => from > earliest && from <= latest && targets[i + 1]?.from !== from, // else it was never in force
    ),
  ];
}
