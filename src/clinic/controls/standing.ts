/**
 * Whether a meter with a strip lot was in control at a moment. Out of control from the control that failed until each
 * level that failed has passed again.
 */
import type { Instant } from '../../core/instant.ts';
import type { TimeSpan } from '../facts.ts';
import type { JudgedControl } from './assess.ts';
import type { ControlKind } from './level.ts';
import { levelsInQuestion } from './match-level.ts';

/** A stretch of time out of control: `from` is in it, `until` is not. */
export interface OutOfControlSpan {
  /** When the first control failed. */
  readonly from: Instant;
  /** When the last level that had failed passed again; absent while it has not. */
  readonly until?: Instant;
  /** The last good control before it: what was measured since then is in doubt too. Absent where there was none. */
  readonly lastGood?: { readonly id: string; readonly at: Instant };
  /** Ids of the controls that failed in it, in order of time. */
  readonly failed: readonly string[];
  /** The first failure in words. */
  readonly sentence: string;
}

/** What stands of a meter with a strip lot. */
export type ControlStanding =
  | { readonly state: 'in-control'; readonly lastGood: { readonly id: string; readonly at: Instant } }
  | { readonly state: 'out-of-control'; readonly span: OutOfControlSpan }
  /** No good control of a kind that counts, and none that failed. */
  | { readonly state: 'never-controlled' };

/** All that the controls say of one meter with one strip lot. */
export interface ControlHistory {
  readonly spans: readonly OutOfControlSpan[];
  /** Good controls of the kinds that count, in order of time. */
  readonly good: readonly { readonly id: string; readonly at: Instant }[];
}

/**
 * Reads the history of one meter with one strip lot from judged controls (in order of time, as `judgeControls` gives
 * them; other meters and lots among them are passed over). Electronic controls test the meter and so speak for every
 * lot; a failed liquid control without a strip lot does too, a good one only where `stripLot` is undefined as well.
 * `counts`: kinds of control by which a meter comes to be in control; failures count of either kind. A good result of an
 * expired material counts for nothing.
 */
export function controlHistory(
  meter: string,
  stripLot: string | undefined,
  judged: readonly JudgedControl[],
  counts: readonly ControlKind[] = ['liquid'],
): ControlHistory {
  const spans: OutOfControlSpan[] = [];
  const good: { readonly id: string; readonly at: Instant }[] = [];
  let open: OutOfControlSpan | undefined;
  const failing = new Set<string>();
  for (const control of judged) {
    const { reading, kind, outcome } = control;
    if (reading.meter !== meter) continue;
    const isOfLot = kind === 'electronic' || reading.stripLot === stripLot;
    const { id, time } = reading;
    if (outcome === 'reject') {
      if (!isOfLot && reading.stripLot !== undefined) continue;
      for (const level of failedLevels(control)) failing.add(level);
      const lastGood = good.at(-1);
      const sentence = control.fired.find((f) => f.outcome === 'reject')?.sentence ?? '';
      open = open
        ? { ...open, failed: [...open.failed, id] }
        : { from: time.at, failed: [id], sentence, ...(lastGood && { lastGood }) };
      continue;
    }
    if (!isOfLot || outcome === 'unassigned' || control.isExpired) continue;
    for (const level of levelsOf(control)) failing.delete(level);
    if (open && failing.size === 0) {
      spans.push({ ...open, until: time.at });
      open = undefined;
    }
    if (!open && kind && counts.includes(kind)) good.push({ id, at: time.at });
  }
  return { spans: open ? [...spans, open] : spans, good };
}

/** When a meter with a strip lot was out of control. See `controlHistory`. */
export const outOfControlSpans = (
  meter: string,
  stripLot: string | undefined,
  judged: readonly JudgedControl[],
): readonly OutOfControlSpan[] => controlHistory(meter, stripLot, judged).spans;

/** How a meter with a strip lot stood at a moment. */
export function standingAt({ spans, good }: ControlHistory, at: Instant): ControlStanding {
  const span = spans.findLast((s) => s.from <= at);
  if (span && (span.until === undefined || at < span.until)) return { state: 'out-of-control', span };
  const lastGood = good.findLast((g) => g.at <= at);
  return lastGood ? { state: 'in-control', lastGood } : { state: 'never-controlled' };
}

/**
 * Whether a test was made out of control, by the bounds of its time: `yes` where all of them lie in one span, `no` where
 * none of them lies in any, else `possibly`, with the span.
 */
export function wasOutOfControl(
  time: TimeSpan,
  spans: readonly OutOfControlSpan[],
): { readonly was: 'yes' | 'possibly'; readonly span: OutOfControlSpan } | { readonly was: 'no' } {
  const earliest = time.earliest ?? Number.NEGATIVE_INFINITY;
  const latest = time.latest ?? Number.POSITIVE_INFINITY;
  const until = (s: OutOfControlSpan): number => s.until ?? Number.POSITIVE_INFINITY;
  const span = spans.find((s) => s.from <= latest && earliest < until(s));
  if (!span) return { was: 'no' };
  const isInside = span.from <= earliest && (span.until === undefined || latest < span.until);
  return { was: isInside ? 'yes' : 'possibly', span };
}

const keyOf = (kind: ControlKind, level: string, analyte: string): string => JSON.stringify([kind, analyte, level]);

/** Keys of the levels that a control was, or could be. */
const levelsOf = ({ match }: JudgedControl): readonly string[] =>
  levelsInQuestion(match).map((l) => keyOf(l.kind, l.level, l.analyte));

/** Levels that a rejected control calls into question: its own, and those whose values made the rules speak. */
function failedLevels(control: JudgedControl): readonly string[] {
  const { kind, reading, fired } = control;
  const others = fired.filter((f) => f.outcome === 'reject').flatMap((f) => f.values);
  return [...levelsOf(control), ...(kind ? others.map((v) => keyOf(kind, v.level, reading.analyte)) : [])];
}
