/**
 * The sending side of E1381 as a pure state machine (states and actions: the state table of LIS01-A2, rows Idle,
 * DataToSend, TxEnq, NextFrame, TxWait, OldFrame, Interrupt). Reply bytes and the end of the one timer come in; bytes
 * to send and timers come out. It sends one message, given as frames, and says how that ended.
 */
import { ACK, ENQ, EOT, NAK } from './link-bytes.ts';
import { FRAME_TRIES, LINK_TIMERS, type LinkRole, type LinkTimers } from './link-timers.ts';

export interface SenderOptions {
  readonly role: LinkRole;
  readonly timers?: LinkTimers;
  /** True: an EOT in place of ACK ends the sending with the rest unsent. False (default): it counts as ACK. */
  readonly honoursInterrupt?: boolean;
  /** How many ENQ are sent at most where the other side is busy or wants to send itself; default 6. */
  readonly enquiries?: number;
}

/**
 * `delivered`: every frame was acknowledged. `no-answer`: a timer ran out. `refused`: one frame was not accepted six
 * times. `busy`: every ENQ got NAK. `yielded`: the other side's ENQ came while we waited to repeat ours; answer it as
 * receiver and start again afterwards. `interrupted`: the other side asked us to stop and we did.
 */
export type SendOutcome = 'delivered' | 'no-answer' | 'refused' | 'busy' | 'yielded' | 'interrupted';

export interface SenderState {
  /** `waiting`: for the busy or contention timer; `enquiring`: ENQ is out; `sending`: a frame is out; `done`: see `outcome`. */
  readonly phase: 'idle' | 'waiting' | 'enquiring' | 'sending' | 'done';
  readonly frames: readonly Uint8Array[];
  /** Index of the frame that is out. */
  readonly index: number;
  /** How often it has been sent. */
  readonly tries: number;
  readonly enquiries: number;
  readonly outcome?: SendOutcome;
}

export type SenderInput =
  /** Begin. The first input. */
  | { readonly kind: 'start' }
  /** One byte from the other side. Any byte may be a reply, so frames are not looked for here. */
  | { readonly kind: 'byte'; readonly byte: number }
  | { readonly kind: 'timer' };

export type SenderEffect =
  | { readonly kind: 'send'; readonly data: Uint8Array }
  /** Starts the timer, replacing the running one. */
  | { readonly kind: 'timer'; readonly afterMs: number }
  | { readonly kind: 'timer-off' }
  /** The frame with this index was acknowledged. */
  | { readonly kind: 'accepted'; readonly index: number }
  | { readonly kind: 'ended'; readonly outcome: SendOutcome };

export interface SenderStep {
  readonly state: SenderState;
  readonly effects: readonly SenderEffect[];
}

/** A sender that has a message to send: the frames of `encodeMessage`. */
export const createSender = (frames: readonly Uint8Array[]): SenderState => ({
  phase: 'idle',
  frames,
  index: 0,
  tries: 0,
  enquiries: 0,
});

const byteOf = (code: number): SenderEffect => ({ kind: 'send', data: Uint8Array.of(code) });

/** The next state and what to do. Inputs after the end change nothing. */
export function stepSender(state: SenderState, input: SenderInput, options: SenderOptions): SenderStep {
  const timers = options.timers ?? LINK_TIMERS;
  switch (state.phase) {
    case 'idle':
      return input.kind === 'start' ? enquire(state, timers) : { state, effects: [] };
    case 'waiting':
      if (input.kind === 'timer') return enquire(state, timers);
      return input.kind === 'byte' && input.byte === ENQ ? end(state, 'yielded', false) : { state, effects: [] };
    case 'enquiring':
      return whileEnquiring(state, input, options, timers);
    case 'sending':
      return whileSending(state, input, options, timers);
    case 'done':
      return { state, effects: [] };
  }
}

function enquire(state: SenderState, timers: LinkTimers): SenderStep {
  return {
    state: { ...state, phase: 'enquiring', enquiries: state.enquiries + 1 },
    effects: [byteOf(ENQ), { kind: 'timer', afterMs: timers.answerMs }],
  };
}

function whileEnquiring(
  state: SenderState,
  input: SenderInput,
  options: SenderOptions,
  timers: LinkTimers,
): SenderStep {
  if (input.kind === 'timer') return end(state, 'no-answer', true);
  if (input.kind !== 'byte') return { state, effects: [] };
  if (input.byte === ACK) return sendFrame({ ...state, phase: 'sending', index: 0, tries: 0 }, timers);
  const isBusy = input.byte === NAK;
  // Anything but an answer is ignored here: the timer decides.
  if (!isBusy && input.byte !== ENQ) return { state, effects: [] };
  if (state.enquiries >= (options.enquiries ?? 6)) return end(state, 'busy', false);
  const afterMs = isBusy ? timers.busyMs : timers.contentionMs[options.role];
  return { state: { ...state, phase: 'waiting' }, effects: [{ kind: 'timer', afterMs }] };
}

function whileSending(state: SenderState, input: SenderInput, options: SenderOptions, timers: LinkTimers): SenderStep {
  if (input.kind === 'timer') return end(state, 'no-answer', true);
  if (input.kind !== 'byte') return { state, effects: [] };
  if (input.byte === ACK || input.byte === EOT) {
    const accepted: SenderEffect = { kind: 'accepted', index: state.index };
    const next = { ...state, index: state.index + 1, tries: 0 };
    const isAll = next.index === state.frames.length;
    const stops = input.byte === EOT && options.honoursInterrupt === true && !isAll;
    const then = stops
      ? end(next, 'interrupted', true)
      : isAll
        ? end(next, 'delivered', true)
        : sendFrame(next, timers);
    return { state: then.state, effects: [accepted, ...then.effects] };
  }
  // NAK, and any other character counts as NAK.
  return state.tries >= FRAME_TRIES ? end(state, 'refused', true) : sendFrame(state, timers);
}

function sendFrame(state: SenderState, timers: LinkTimers): SenderStep {
  const data = state.frames[state.index];
  if (!data) return end(state, 'delivered', true); // a message of no frames
  return {
    state: { ...state, tries: state.tries + 1 },
    effects: [
      { kind: 'send', data },
      { kind: 'timer', afterMs: timers.answerMs },
    ],
  };
}

function end(state: SenderState, outcome: SendOutcome, sendsEot: boolean): SenderStep {
  const effects: SenderEffect[] = [{ kind: 'timer-off' }, { kind: 'ended', outcome }];
  return { state: { ...state, phase: 'done', outcome }, effects: sendsEot ? [byteOf(EOT), ...effects] : effects };
}
