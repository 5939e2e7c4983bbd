/**
 * How far back a meter's life can reach. A meter is taken to have been in use for at most 3 years before its first
 * download; but a full memory of weekly tests spans almost 4, and where all its stamps run on undisturbed up to that
 * download, they say themselves how long it has been in use. Then they are believed, rather than a change of the clock
 * that nothing else calls for.
 */
import type { Gap } from './anchors.ts';
import { stampsOf } from './gap-times.ts';
import { provesChange } from './stories.ts';

/** Allowance before the first stamp: drift over the years is minutes, so a day is ample. */
const SLACK_MS = 86_400_000;

/** The gaps with the first one reaching back as far as its undisturbed stamps do. */
export function reachBack(gaps: readonly Gap[]): readonly Gap[] {
  const [head, ...rest] = gaps;
  if (!head?.last || head.first) return gaps;
  const { stamps, certain } = stampsOf(head);
  const first = stamps[0];
  if (!first || provesChange(certain)) return gaps;
  const began = first.wall - head.last.offset.hi - SLACK_MS;
  const [since] = head.notBefore;
  if (since === undefined || since <= began) return gaps;
  // A download that did not see the clock still says which tests were made after it.
  return [{ ...head, notBefore: head.notBefore.map((floor) => (floor === since ? began : floor)) }, ...rest];
}
