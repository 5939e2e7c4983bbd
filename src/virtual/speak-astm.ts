/**
 * The meter side of E1381 and E1394: it sends its whole memory when somebody connects, or when it is asked. Pure. The
 * frames and the sending machine are the project's own; what is said, when, and how a question is heard is this
 * file's, written from the pages.
 */
import { type Instant, instant } from '../core/instant.ts';
import { encodeFrames } from '../wire/astm/frame-writer.ts';
import { ACK, ENQ, EOT, ETB, ETX, frameSum, LF, NAK, STX } from '../wire/astm/link-bytes.ts';
import { LINK_TIMERS, type LinkTimers } from '../wire/astm/link-timers.ts';
import { createSender, type SenderInput, type SenderState, stepSender } from '../wire/astm/sender.ts';
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

export interface AstmState {
  readonly meter: VirtualMeter;
  /** A transfer that is going on. */
  readonly sender?: SenderState;
  /** For each frame of the transfer, the test that it tells of. */
  readonly tells: readonly Send['tells'][];
  /** What came of a question: the frame that is still to be ended, the last frame number taken, and what was asked. */
  readonly hearing?: { readonly bytes: readonly number[]; readonly taken: number; readonly text: string };
  /** True where this transfer answers a query. */
  readonly answers: boolean;
  readonly wake?: { readonly at: Instant; readonly why: 'sender' | 'call' | 'silence' };
}

type Step = { readonly state: AstmState; readonly sends: readonly Send[] };

/** A meter that speaks E1394. */
export function astmSpeaker(habits: AstmHabits = ASTM_HABITS): Speaker<AstmState> {
  return {
    begin: (meter) => ({ meter, tells: [], answers: false }),
    step(state, input) {
      const next = react(habits, state, input);
      return next.state.wake ? { ...next, wakeAt: next.state.wake.at } : next;
    },
  };
}

function react(habits: AstmHabits, state: AstmState, input: SpeakerInput): Step {
  switch (input.kind) {
    case 'opened': {
      const fresh: AstmState = { meter: state.meter, tells: [], answers: false };
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
          ? send(habits, now, { kind: 'byte', byte }, input.at)
          : hear(habits, now, byte, input.at);
        now = next.state;
        sends.push(...next.sends);
      }
      return { state: now, sends };
    }
  }
}

function wake(habits: AstmHabits, state: AstmState, at: Instant): Step {
  const { wake: due, ...rest } = state;
  // The clock of the one who wakes us may be a hair early.
  if (!due || at < due.at - 1) return { state, sends: [] };
  if (due.why === 'sender') return send(habits, rest, { kind: 'timer' }, at);
  if (due.why === 'call') return call(habits, rest, at, state.answers);
  const { hearing: _given, ...silent } = rest;
  return { state: silent, sends: [] };
}

/** Begins a transfer with ENQ. */
const call = (habits: AstmHabits, state: AstmState, at: Instant, answers: boolean): Step =>
  send(habits, { ...state, answers, sender: createSender([]) }, { kind: 'start' }, at);

/** Moves the sending machine on. */
function send(habits: AstmHabits, before: AstmState, input: SenderInput, at: Instant): Step {
  if (!before.sender) return { state: before, sends: [] };
  let state = before;
  let sender = before.sender;
  const from = instant(at + habits.answersAfterMs);
  if (sender.phase === 'enquiring' && input.kind === 'byte' && input.byte === ACK) {
    // Only now is the message made, so that the header's clock is that of this very moment.
    const { frames, tells } = messageFrames(state.meter, from, state.answers);
    sender = { ...sender, frames };
    state = { ...state, tells };
  }
  const timers = input.kind === 'byte' ? habits.timers : { ...habits.timers, answerMs: habits.answerToCallMs };
  const next = stepSender(sender, input, { role: 'instrument', timers, honoursInterrupt: true });
  state = { ...state, sender: next.state };
  const sends: Send[] = [];
  for (const effect of next.effects) {
    if (effect.kind === 'send') {
      const tells = next.state.phase === 'sending' ? state.tells[next.state.index] : undefined;
      sends.push(tells ? { from, data: effect.data, tells } : { from, data: effect.data });
    } else if (effect.kind === 'timer') {
      state = { ...state, wake: { at: instant(from + effect.afterMs), why: 'sender' } };
    } else if (effect.kind === 'timer-off') {
      state = withoutWake(state);
    } else if (effect.kind === 'ended') {
      const ended = over(habits, state, effect.outcome, at);
      return { state: ended.state, sends: [...sends, ...ended.sends] };
    }
  }
  return { state, sends };
}

/** A transfer is over. Where not everything was delivered it calls again, unless it waits to be asked. */
function over(habits: AstmHabits, state: AstmState, outcome: string, at: Instant): Step {
  const { sender: _done, ...idle } = withoutWake(state);
  if (outcome === 'yielded') return hear(habits, idle, ENQ, at);
  const pause =
    outcome === 'delivered' ? habits.callsAgainMs : outcome === 'interrupted' ? habits.timers.answerMs : PAUSE_MS;
  if (habits.waitsToBeAsked || pause === undefined) return { state: idle, sends: [] };
  return { state: { ...idle, wake: { at: instant(at + pause), why: 'call' } }, sends: [] };
}

/** One byte while nothing is being sent: the host may want to ask. */
function hear(habits: AstmHabits, state: AstmState, byte: number, at: Instant): Step {
  const answer = (code: number, hearing: AstmState['hearing'] & object): Step => ({
    state: { ...state, hearing, wake: { at: instant(at + habits.timers.frameMs), why: 'silence' } },
    sends: [{ from: instant(at + habits.answersAfterMs), data: Uint8Array.of(code) }],
  });
  const { hearing } = state;
  if (!hearing) return byte === ENQ ? answer(ACK, { bytes: [], taken: 0, text: '' }) : { state, sends: [] };
  if (byte === EOT) {
    const { hearing: _heard, ...idle } = withoutWake(state);
    const asks = /(^|\r)Q\|/.test(hearing.text);
    if (asks || !habits.waitsToBeAsked) return call(habits, idle, at, asks);
    return { state: idle, sends: [] };
  }
  if (byte === ENQ && hearing.bytes.length === 0) return answer(ACK, { bytes: [], taken: 0, text: '' });
  const bytes = byte === STX ? [STX] : hearing.bytes.length > 0 ? [...hearing.bytes, byte] : [];
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

function withoutWake(state: AstmState): AstmState {
  const { wake: _off, ...rest } = state;
  return rest;
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
