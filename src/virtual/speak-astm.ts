/**
 * The meter side of E1381 and E1394: it sends its whole memory when somebody connects, or when it is asked. Pure. The
 * frames and the sending machine are the project's own; what is said, when, and how a question is heard is this
 * file's, written from the pages.
 */
import { type Instant, instant } from '../core/instant.ts';
import { encodeFrames } from '../wire/astm/frame-writer.ts';
import { ACK, ENQ, EOT, ETB, ETX, frameSum, LF, NAK, STX } from '../wire/astm/link-bytes.ts';
import { LINK_TIMERS, type LinkTimers } from '../wire/astm/link-timers.ts';
import { createSender, type SenderInput, type SenderState, type SendOutcome, stepSender } from '../wire/astm/sender.ts';
import { memoryRecords } from './astm-records.ts';
import { makeTest, shownClock, type VirtualMeter } from './meter.ts';
import type { Send, Speaker, SpeakerInput } from './speaker.ts';

/** Habits of a meter that speaks E1394. */
export interface AstmHabits {
  /** True: it sends only when a query comes; false: as soon as somebody connects. */
  readonly waitsToBeAsked: boolean;
  /** From an answer of the host to the next frame. */
  readonly answersAfterMs: number;
  /** How long it waits for the answer to its ENQ. */
  readonly answerToCallMs: number;
  /** It sends everything again this long after a whole transfer; absent: not by itself. */
  readonly callsAgainMs?: number;
  /** The waiting times of E1381. */
  readonly timers: LinkTimers;
}

/** A meter that sends on connection, with the times of the standard. */
export const ASTM_HABITS: AstmHabits = {
  waitsToBeAsked: false,
  answersAfterMs: 0,
  answerToCallMs: LINK_TIMERS.answerMs,
  timers: LINK_TIMERS,
};

/** Pause before it calls again where nobody answered, and where a transfer broke off. */
const PAUSE_MS = 1000;
/** A question's frame is never longer than this (E1381-91: 240 bytes of text and 7 around them). */
const FRAME_LIMIT = 247;

export interface AstmState {
  readonly meter: VirtualMeter;
  /** A transfer that is going on. */
  readonly sender: SenderState | undefined;
  /** For each frame of the transfer, the test that it tells of. */
  readonly tells: readonly Send['tells'][];
  /** True where this transfer answers a query. */
  readonly answers: boolean;
  /** What came of a question: the frame that is still to be ended, the last frame number taken, and what was asked. */
  readonly hearing: { readonly bytes: readonly number[]; readonly taken: number; readonly text: string } | undefined;
  readonly wake: { readonly at: Instant; readonly why: 'sender' | 'call' | 'silence' } | undefined;
}

type Step = { readonly state: AstmState; readonly sends: readonly Send[] };

const idle = (meter: VirtualMeter): AstmState => ({
  meter,
  sender: undefined,
  tells: [],
  answers: false,
  hearing: undefined,
  wake: undefined,
});

/** A meter that speaks E1394. */
export function astmSpeaker(habits: AstmHabits = ASTM_HABITS): Speaker<AstmState> {
  return {
    begin: idle,
    step(before, input) {
      const { state, sends } = react(habits, before, input);
      return state.wake ? { state, sends, wakeAt: state.wake.at } : { state, sends };
    },
  };
}

function react(habits: AstmHabits, state: AstmState, input: SpeakerInput): Step {
  switch (input.kind) {
    case 'opened': {
      const fresh = idle(state.meter);
      return habits.waitsToBeAsked ? { state: fresh, sends: [] } : call(habits, fresh, input.at, false);
    }
    case 'test':
      return { state: { ...state, meter: makeTest(state.meter, input.at, input.facts) }, sends: [] };
    case 'wake':
      return wake(habits, state, input.at);
    case 'bytes': {
      const sends: Send[] = [];
      let now = state;
      for (const byte of input.data) {
        const next = now.sender
          ? send(habits, now, now.sender, { kind: 'byte', byte }, input.at)
          : hear(habits, now, byte, input.at);
        now = next.state;
        sends.push(...next.sends);
      }
      return { state: now, sends };
    }
  }
}

function wake(habits: AstmHabits, state: AstmState, at: Instant): Step {
  const due = state.wake;
  // The timer of the one who wakes us may be a hair early.
  if (!due || at < due.at - 1) return { state, sends: [] };
  const awake: AstmState = { ...state, wake: undefined };
  if (due.why === 'call') return call(habits, awake, at, state.answers);
  if (due.why === 'sender' && state.sender) return send(habits, awake, state.sender, { kind: 'timer' }, at);
  return { state: { ...awake, hearing: undefined }, sends: [] };
}

/** Begins a transfer with ENQ. */
const call = (habits: AstmHabits, state: AstmState, at: Instant, answers: boolean): Step =>
  send(habits, { ...state, answers, hearing: undefined }, createSender([]), { kind: 'start' }, at);

/** Moves the sending machine on. */
function send(habits: AstmHabits, state: AstmState, before: SenderState, input: SenderInput, at: Instant): Step {
  const from = instant(at + habits.answersAfterMs);
  const isAnswered = before.phase === 'enquiring' && input.kind === 'byte' && input.byte === ACK;
  // Only now is the message made, so that the header's clock is that of this very moment.
  const message = isAnswered ? messageFrames(state.meter, from, state.answers) : undefined;
  const sender = message ? { ...before, frames: message.frames } : before;
  const tells = message?.tells ?? state.tells;
  const timers = input.kind === 'byte' ? habits.timers : { ...habits.timers, answerMs: habits.answerToCallMs };
  const next = stepSender(sender, input, { role: 'instrument', timers, honoursInterrupt: true });
  const told = next.state.phase === 'sending' ? tells[next.state.index] : undefined;
  const sends: Send[] = [];
  let wakes = state.wake;
  let outcome: SendOutcome | undefined;
  for (const effect of next.effects) {
    if (effect.kind === 'send')
      sends.push(told ? { from, data: effect.data, tells: told } : { from, data: effect.data });
    else if (effect.kind === 'timer') wakes = { at: instant(from + effect.afterMs), why: 'sender' };
    else if (effect.kind === 'timer-off') wakes = undefined;
    else if (effect.kind === 'ended') outcome = effect.outcome;
  }
  const moved: AstmState = { ...state, sender: next.state, tells, wake: wakes };
  if (!outcome) return { state: moved, sends };
  const after = over(habits, moved, outcome, at);
  return { state: after.state, sends: [...sends, ...after.sends] };
}

/** A transfer is over. Where not everything was delivered it calls again, unless it waits to be asked. */
function over(habits: AstmHabits, state: AstmState, outcome: SendOutcome, at: Instant): Step {
  const rests: AstmState = { ...state, sender: undefined, wake: undefined };
  if (outcome === 'yielded') return hear(habits, rests, ENQ, at);
  const pause =
    outcome === 'delivered' ? habits.callsAgainMs : outcome === 'interrupted' ? habits.timers.answerMs : PAUSE_MS;
  if (habits.waitsToBeAsked || pause === undefined) return { state: rests, sends: [] };
  return { state: { ...rests, wake: { at: instant(at + pause), why: 'call' } }, sends: [] };
}

/** One byte while nothing is being sent: the host may want to ask. */
function hear(habits: AstmHabits, state: AstmState, byte: number, at: Instant): Step {
  const answer = (code: number, hearing: AstmState['hearing']): Step => ({
    state: { ...state, hearing, wake: { at: instant(at + habits.timers.frameMs), why: 'silence' } },
    sends: [{ from: instant(at + habits.answersAfterMs), data: Uint8Array.of(code) }],
  });
  const { hearing } = state;
  if (byte === ENQ && (!hearing || hearing.bytes.length === 0)) return answer(ACK, { bytes: [], taken: 0, text: '' });
  if (!hearing) return { state, sends: [] };
  if (byte === EOT) {
    const rests: AstmState = { ...state, hearing: undefined, wake: undefined };
    const asks = /(^|\r)Q\|/.test(hearing.text);
    return asks || !habits.waitsToBeAsked ? call(habits, rests, at, asks) : { state: rests, sends: [] };
  }
  const isInFrame = hearing.bytes.length > 0 && hearing.bytes.length < FRAME_LIMIT;
  const bytes = byte === STX ? [STX] : isInFrame ? [...hearing.bytes, byte] : [];
  if (byte !== LF || bytes.length === 0) return { state: { ...state, hearing: { ...hearing, bytes } }, sends: [] };
  const frame = readFrame(bytes);
  if (frame?.number === hearing.taken) return answer(ACK, { ...hearing, bytes: [] }); // a repeat
  if (frame?.number !== (hearing.taken + 1) % 8) return answer(NAK, { ...hearing, bytes: [] });
  return answer(ACK, { bytes: [], taken: frame.number, text: hearing.text + frame.text });
}

/** Number and text of a whole frame, STX to LF; undefined where its sum or form is wrong. */
function readFrame(bytes: readonly number[]): { number: number; text: string } | undefined {
  const frame = Buffer.from(bytes);
  const number = Number(frame.toString('latin1', 1, 2));
  const end = frame.at(-5);
  const sum = Number.parseInt(frame.toString('latin1', frame.length - 4, frame.length - 2), 16);
  if (frame.length < 7 || (end !== ETX && end !== ETB) || sum !== frameSum(frame.subarray(1, -4))) return undefined;
  return { number, text: frame.toString('latin1', 2, frame.length - 5) };
}

/** The frames of the memory as it is at a moment, and what each of them tells. */
function messageFrames(
  meter: VirtualMeter,
  at: Instant,
  answers: boolean,
): { frames: Uint8Array[]; tells: Send['tells'][] } {
  const frames: Uint8Array[] = [];
  const tells: Send['tells'][] = [];
  for (const record of memoryRecords(meter, shownClock(meter, at), answers)) {
    const made = encodeFrames(record.text, (frames.length + 1) % 8);
    made.forEach((frame, i) => {
      const isEnd = i === made.length - 1;
      frames.push(frame);
      tells.push(record.tells && { made: record.tells.made, last: record.tells.last && isEnd });
    });
  }
  return { frames, tells };
}
