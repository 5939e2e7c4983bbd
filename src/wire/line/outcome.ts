/** How a conversation stands: its outcome if it ended now, and its progress. */
import type { TestRecord } from '../../core/reading.ts';
import type { TalkEffect, TalkOutcome, TalkProgress } from '../talk.ts';
import { countRead } from './collected.ts';
import type { LineState } from './line-state.ts';
import { cutTrouble, goneTrouble, refusedTrouble, unusableTrouble } from './trouble.ts';

/** How the conversation stands if it ended now; `why` is said where the memory is not whole. */
export function outcomeNow(state: LineState, why: string): TalkOutcome {
  if (state.stage.kind === 'leaving') return state.stage.outcome;
  if (state.isProven && state.unusable === 0) return { complete: true, clockSet: state.clockSet };
  // A watched meter that nothing was asked of yet: nothing is missing.
  if (state.readTries === 0 && state.meter) return { complete: false, clockSet: false };
  const trouble = state.isProven ? unusableTrouble(state) : cutTrouble(state, countRead(state), why);
  return { complete: false, clockSet: false, trouble };
}

/** The outcome where a watched meter does not answer any more. */
export const goneOutcome = (state: LineState): TalkOutcome => ({
  complete: false,
  clockSet: false,
  trouble: goneTrouble(state),
});

/** The outcome of a conversation that the meter refused. */
export const refused = (state: LineState): TalkOutcome => ({
  complete: false,
  clockSet: false,
  trouble: refusedTrouble(state),
});

/** Adds a report of how far the conversation is. */
export function report(state: LineState, phase: TalkProgress['phase'], effects: TalkEffect[], test?: TestRecord): void {
  const { meter } = state;
  const progress: TalkProgress = {
    phase,
    ...(meter ? { meter: meter.identity, held: meter.held } : {}),
    read: countRead(state),
    ...(test ? { test } : {}),
  };
  effects.push({ kind: 'progress', progress });
}
