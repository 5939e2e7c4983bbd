/**
 * The receiving side of E1381 as a pure state machine (states and actions: the state table of LIS01-A2, rows Idle,
 * Awake, RxWait, FrameReceived). Link events and the end of the one timer come in; answers, accepted texts and timers
 * come out. Whether a text makes sense is not its business.
 *
 * One row is added to the table: an ENQ between frames means that the sender has begun anew (it was switched off and
 * on again), and is answered like any other ENQ.
 */
import { ACK, EOT, NAK } from './link-bytes.ts';
import type { LinkEvent } from './link-frames.ts';
import { LINK_TIMERS, type LinkTimers } from './link-timers.ts';

export interface ReceiverOptions {
  readonly timers?: LinkTimers;
}

export interface ReceiverState {
  readonly phase: 'idle' | 'receiving';
  /** Number of the frame that is due. */
  readonly due: number;
  /** Number of the last accepted frame of this transfer; absent before the first. */
  readonly last?: number;
}

export type ReceiverInput = { readonly kind: 'event'; readonly event: LinkEvent } | { readonly kind: 'timer' };

/** What the receiving side wants for itself while it answers. */
export interface ReceiverWish {
  /** True: an ENQ is answered with NAK. */
  readonly isBusy?: boolean;
  /** True: own data waits, so a good frame is answered with EOT, the request to stop, instead of ACK. */
  readonly wantsToSend?: boolean;
}

export type ReceiverEffect =
  | { readonly kind: 'send'; readonly data: Uint8Array }
  /** Starts the timer, replacing the running one. */
  | { readonly kind: 'timer'; readonly afterMs: number }
  | { readonly kind: 'timer-off' }
  /** A transfer begins; one that was unfinished is dropped. */
  | { readonly kind: 'began' }
  /** A new frame was accepted: its text, one character for each byte; `isLast`: the record ends here. */
  | { readonly kind: 'text'; readonly text: string; readonly isLast: boolean }
  /** A frame was refused, or was a repeat that is not used twice. */
  | { readonly kind: 'unused'; readonly why: 'refused' | 'repeat' }
  /** The transfer is over: `eot` the sender said so, `timeout` nothing came for too long. */
  | { readonly kind: 'ended'; readonly how: 'eot' | 'timeout' };

export interface ReceiverStep {
  readonly state: ReceiverState;
  readonly effects: readonly ReceiverEffect[];
}

/** A receiver at rest. */
export const IDLE_RECEIVER: ReceiverState = { phase: 'idle', due: 1 };

/** How a frame number stands to what was accepted so far: this rule is shared with the decoding of captures. */
export function judgeNumber(state: ReceiverState, number: number): 'new' | 'repeat' | 'wrong' {
  if (number === state.due) return 'new';
  return number === state.last ? 'repeat' : 'wrong';
}

const answer = (code: number, timers: LinkTimers): ReceiverEffect[] => [
  { kind: 'send', data: Uint8Array.of(code) },
  { kind: 'timer', afterMs: timers.frameMs },
];

/** The next state and what to do. In the neutral state everything but ENQ is ignored. */
export function stepReceiver(
  state: ReceiverState,
  input: ReceiverInput,
  wish: ReceiverWish = {},
  options: ReceiverOptions = {},
): ReceiverStep {
  const timers = options.timers ?? LINK_TIMERS;
  const isReceiving = state.phase === 'receiving';
  if (input.kind === 'timer')
    return isReceiving
      ? { state: IDLE_RECEIVER, effects: [{ kind: 'ended', how: 'timeout' }] }
      : { state, effects: [] };
  const { event } = input;
  if (event.kind === 'control' && event.code === 'ENQ') {
    if (wish.isBusy && !isReceiving) return { state, effects: [{ kind: 'send', data: Uint8Array.of(NAK) }] };
    return { state: { phase: 'receiving', due: 1 }, effects: [{ kind: 'began' }, ...answer(ACK, timers)] };
  }
  if (!isReceiving) return { state, effects: [] };
  if (event.kind === 'control')
    return event.code === 'EOT'
      ? { state: IDLE_RECEIVER, effects: [{ kind: 'timer-off' }, { kind: 'ended', how: 'eot' }] }
      : { state, effects: [] };
  if (event.kind === 'noise') return { state, effects: [] };
  const verdict = event.kind === 'frame' ? judgeNumber(state, event.number) : 'wrong';
  if (event.kind !== 'frame' || verdict === 'wrong')
    return { state, effects: [{ kind: 'unused', why: 'refused' }, ...answer(NAK, timers)] };
  const yes = answer(wish.wantsToSend ? EOT : ACK, timers);
  if (verdict === 'repeat') return { state, effects: [{ kind: 'unused', why: 'repeat' }, ...yes] };
  return {
    state: { phase: 'receiving', due: (event.number + 1) % 8, last: event.number },
    effects: [...yes, { kind: 'text', text: event.text, isLast: event.last }],
  };
}
