/** Why a line-protocol conversation did not do its job: one sentence for a nurse, and the next step. */
import type { FaultCode } from '../../core/fault.ts';
import type { TalkOutcome } from '../talk.ts';
import type { LineState } from './line-state.ts';

type Trouble = NonNullable<TalkOutcome['trouble']>;

const trouble = (code: FaultCode, message: string, hint: string): Trouble => ({ code, message, hint });
const AGAIN = 'Collect again: what was read is kept, and the rest follows.';

const nameOf = (state: LineState): string =>
  state.meter ? `${state.meter.identity.model} ${state.meter.identity.id}` : 'the meter';

/** Nothing, or nothing that makes sense, or only a part of the memory came. `why` is a clause about what happened. */
export function cutTrouble(state: LineState, read: number, why: string): Trouble {
  if (state.meter)
    return trouble(
      'DOWNLOAD_CUT',
      `${read} of ${Math.max(state.meter.held, state.claim?.count ?? 0)} results of meter ${nameOf(state)} were read: ${why}.`,
      AGAIN,
    );
  if (state.refusal !== undefined) return refusedTrouble(state);
  if (state.lastByteAt === undefined)
    return trouble(
      'METER_SILENT',
      'No meter answered.',
      'Switch the meter on, check that it is plugged in, and collect again.',
    );
  return trouble(
    'METER_GARBLED',
    state.goodLines === 0
      ? 'Something came from the port, but not one line of it could be read.'
      : 'Lines came from the port, but no meter said its name.',
    'Check that the profile and the speed fit this meter and that the plug is firm, then collect again.',
  );
}

/** A meter that was read does not answer any more. */
export const goneTrouble = (state: LineState): Trouble =>
  trouble(
    'METER_SILENT',
    state.meter ? `Meter ${nameOf(state)} does not answer any more.` : 'The meter does not answer any more.',
    'Nothing is missing if it was taken away; else switch it on and plug it in again.',
  );

/** The meter answered with an error. */
export const refusedTrouble = (state: LineState): Trouble =>
  trouble(
    'METER_REFUSED',
    `The meter refused the question (${state.refusal ?? 'no reason given'}).`,
    'Leave any menu or running test on the meter, then collect again.',
  );

/** The meter does not stop sending. */
export const endlessTrouble = (state: LineState): Trouble =>
  trouble(
    'METER_ENDLESS',
    `The stream from ${nameOf(state)} does not end.`,
    'Unplug the meter, switch it off and on, and collect again.',
  );

/** The memory came whole, but some of its lines break the rules of the protocol. */
export const unusableTrouble = (state: LineState): Trouble =>
  trouble(
    'DOWNLOAD_CUT',
    `${state.unusable} of the results in meter ${nameOf(state)} came in a form that cannot be read.`,
    'Read these results on the meter itself, and have the meter checked by those who maintain it.',
  );
