/**
 * A conversation with a meter that speaks E1394 over E1381, as a pure step function. Either the meter sends by itself,
 * or the profile says that it is asked; one that can be asked is read twice, because the sum of E1381 is weak, and the
 * decoder compares. A transfer that broke off may begin again within a time. The clock of such a meter cannot be set.
 */
import { type Instant, instant } from '../../core/instant.ts';
import type { MeterProfile } from '../profile.ts';
import type { Talk, TalkEffect, TalkInput, TalkProgress } from '../talk.ts';
import { decodeCharacters } from './escapes.ts';
import { createFrameDecoder, type LinkEvent } from './link-frames.ts';
import { LINK_TIMERS } from './link-timers.ts';
import { readMessages } from './messages.ts';
import { queryFrames } from './query.ts';
import { stepReceiver } from './receiver.ts';
import { createSender, type SenderInput, stepSender } from './sender.ts';
import { type AstmState, type AstmTalkOptions, NEW_TALK } from './talk-state.ts';
import { type RecordText, splitRecords } from './transfers.ts';
import { downloadsSoFar, type EndReason, judge } from './verdict.ts';

export type { AstmState, AstmTalkOptions } from './talk-state.ts';

type Step = { readonly state: AstmState; readonly effects: readonly TalkEffect[] };
type Settings = Required<AstmTalkOptions>;

/** How often a meter is asked at most: twice to compare, once more where an answer broke off. */
const QUESTIONS = 3;
/** How long a running transfer may take to hear that we want to stop. */
const STOP_MS = 2000;

/** A conversation with one meter. */
export function astmTalk(options: AstmTalkOptions): Talk<AstmState> {
  const settings: Settings = {
    waitMs: 60_000,
    resumeMs: 30_000,
    quietMs: 500,
    maxBytes: Math.max(4_000_000, 2000 * (options.profile.memory.capacity ?? 0)),
    timers: LINK_TIMERS,
    ...options,
  };
  return { initial: NEW_TALK, step: (state, input) => withTimer(state, react(settings, state, input), input.at) };
}

/** Adds the timer effect that the new state calls for. */
function withTimer(before: AstmState, step: Step, at: Instant): Step {
  const due = nextTimer(step.state);
  if (due === nextTimer(before) && due !== undefined && due > at) return step;
  if (step.state.stage === 'ended' || (due === undefined && nextTimer(before) === undefined)) return step;
  const timer: TalkEffect =
    due === undefined ? { kind: 'timer-off' } : { kind: 'timer', afterMs: Math.max(0, due - at) };
  return { state: step.state, effects: [...step.effects, timer] };
}

const nextTimer = (state: AstmState): Instant | undefined =>
  state.quietAt !== undefined && (state.due === undefined || state.quietAt < state.due) ? state.quietAt : state.due;

function react(settings: Settings, state: AstmState, input: TalkInput): Step {
  if (state.stage === 'ended') return { state, effects: [] };
  switch (input.kind) {
    case 'opened':
      return begin(settings, { ...state, openedAt: input.at }, input.at);
    case 'bytes':
      return state.stage === 'securing' ? { state, effects: [] } : hear(settings, state, input.data, input.at);
    case 'timer':
      return timeUp(settings, state, input.at);
    case 'safe':
      return state.stage === 'securing' ? endNow(state) : { state, effects: [] };
    case 'closed':
      return endNow(state.outcome ? state : { ...state, outcome: judge(state, settings.profile, 'closed') });
    case 'stop':
      if (state.stage !== 'receiving')
        return state.stage === 'securing' ? { state, effects: [] } : secure(settings, state, 'stopped');
      return {
        state: { ...state, isStopping: true, due: later(input.at, STOP_MS) },
        effects: [progressOf(state, settings, 'leaving')],
      };
  }
}

const later = (at: Instant, ms: number): Instant => instant(at + ms);

function begin(settings: Settings, state: AstmState, at: Instant): Step {
  if (settings.profile.query) return ask(settings, state, at);
  const waiting: AstmState = { ...state, stage: 'waiting', due: later(at, settings.waitMs) };
  return { state: waiting, effects: [progressOf(waiting, settings, 'waiting')] };
}

/** Sends the question for the whole memory. */
function ask(settings: Settings, state: AstmState, at: Instant): Step {
  const asking: AstmState = { ...state, stage: 'asking', asked: state.asked + 1, sender: createSender(queryFrames()) };
  const sent = send(settings, asking, { kind: 'start' }, at);
  return { state: sent.state, effects: [progressOf(asking, settings, 'waking'), ...sent.effects] };
}

/** Moves our sending on. */
function send(settings: Settings, state: AstmState, input: SenderInput, at: Instant): Step {
  if (!state.sender) return { state, effects: [] };
  const next = stepSender(state.sender, input, { role: 'computer', timers: settings.timers });
  let now: AstmState = { ...state, sender: next.state };
  const effects: TalkEffect[] = [];
  for (const effect of next.effects) {
    if (effect.kind === 'send') {
      effects.push(effect);
      now = said(now, effect.data, at);
    } else if (effect.kind === 'timer') now = { ...now, due: later(at, effect.afterMs) };
    else if (effect.kind === 'ended') {
      const { sender: _done, ...idle } = now;
      const after = asked(settings, idle, effect.outcome, at);
      return { state: after.state, effects: [...effects, ...after.effects] };
    }
  }
  return { state: now, effects };
}

/** Our question was sent, or could not be. */
function asked(settings: Settings, state: AstmState, outcome: string, at: Instant): Step {
  const answered: AstmState = { ...state, stage: 'answered', due: later(at, settings.waitMs) };
  if (outcome === 'delivered') return { state: { ...answered, isTaken: true }, effects: [] };
  if (outcome === 'yielded') return receive(settings, answered, [{ kind: 'control', code: 'ENQ' }], at);
  const isLate = at - state.openedAt >= settings.waitMs;
  if (outcome === 'no-answer' && !isLate && state.framesIn === 0)
    return ask(settings, { ...state, asked: state.asked - 1 }, at);
  return secure(settings, state, outcome === 'no-answer' ? 'silence' : 'refused');
}

/** Keeps a chunk that we send, for the decoding at the end. */
const said = (state: AstmState, data: Uint8Array, at: Instant): AstmState => ({
  ...state,
  heard: { chunk: { at, dir: 'out', data }, before: state.heard },
});

function hear(settings: Settings, before: AstmState, data: Uint8Array, at: Instant): Step {
  let state: AstmState = {
    ...before,
    heard: { chunk: { at, dir: 'in', data }, before: before.heard },
    bytesIn: before.bytesIn + data.length,
  };
  const effects: TalkEffect[] = [];
  // While a question is being sent every byte is a reply; what follows it is a stream of frames again.
  let i = 0;
  for (; state.sender && i < data.length; i++) {
    const next = send(settings, state, { kind: 'byte', byte: data[i] ?? 0 }, at);
    state = next.state;
    effects.push(...next.effects);
  }
  if (i < data.length && state.stage !== 'securing') {
    const decoder = createFrameDecoder(state.frames);
    const events = decoder.push(i === 0 ? data : data.subarray(i));
    const { quietAt: _quiet, isTaken: _taken, ...rest } = state;
    const isOpen = decoder.awaitsQuiet;
    state = { ...rest, frames: decoder.state, ...(isOpen ? { quietAt: later(at, settings.quietMs) } : {}) };
    const next = receive(settings, state, events, at);
    state = next.state;
    effects.push(...next.effects);
  }
  if (state.bytesIn <= settings.maxBytes || state.stage === 'securing') return { state, effects };
  const end = secure(settings, state, 'endless');
  return { state: end.state, effects: [...effects, ...end.effects] };
}

function timeUp(settings: Settings, state: AstmState, at: Instant): Step {
  if (state.quietAt !== undefined && nextTimer(state) === state.quietAt) {
    const { quietAt: _quiet, ...rest } = state;
    const decoder = createFrameDecoder(state.frames);
    const events = decoder.quiet();
    return receive(settings, { ...rest, frames: decoder.state }, events, at);
  }
  if (state.sender) return send(settings, state, { kind: 'timer' }, at);
  if (state.stage === 'securing') return { state, effects: [] };
  if (state.isStopping) return secure(settings, state, 'stopped');
  return secure(settings, state, state.stage === 'waiting' || state.stage === 'answered' ? 'silence' : 'over');
}

/** Answers link events as E1381 says and follows what the records tell. */
function receive(settings: Settings, before: AstmState, events: readonly LinkEvent[], at: Instant): Step {
  let state = before;
  const effects: TalkEffect[] = [];
  for (const event of events) {
    if (state.stage === 'securing') break;
    if (event.kind === 'frame') state = { ...state, framesIn: state.framesIn + 1 };
    const next = stepReceiver(state.receiver, { kind: 'event', event }, { wantsToSend: state.isStopping }, settings);
    state = { ...state, receiver: next.state };
    for (const effect of next.effects) {
      if (effect.kind === 'send') {
        effects.push(effect);
        state = said(state, effect.data, at);
      } else if (effect.kind === 'timer') {
        if (!state.isStopping) state = { ...state, due: later(at, effect.afterMs) };
      } else if (effect.kind === 'began') {
        const { header: _header, patient: _patient, ...rest } = state;
        state = { ...rest, stage: 'receiving', test: [], rest: '' };
      } else if (effect.kind === 'text') {
        const told = takeText(settings, state, effect.text, effect.isLast, at);
        state = told.state;
        effects.push(...told.effects);
      } else if (effect.kind === 'ended') {
        const ended = transferEnded(settings, state, at);
        state = ended.state;
        effects.push(...ended.effects);
      }
    }
    // An EOT in place of ACK has asked the meter to stop; a frame that it took is safe with us.
    if (state.isStopping && state.stage === 'receiving' && event.kind === 'frame') {
      const end = secure(settings, state, 'stopped');
      state = end.state;
      effects.push(...end.effects);
    }
  }
  return { state, effects };
}

/** The meter said EOT. All told: again to compare, or done. Broken off: it may begin again. */
function transferEnded(settings: Settings, state: AstmState, at: Instant): Step {
  const downloads = downloadsSoFar(state, settings.profile);
  const isComplete = downloads.length > 0 && downloads.every((download) => download.complete);
  const held = downloads[0]?.held;
  const next = held === undefined ? state : { ...state, held };
  if (state.isStopping) return secure(settings, next, 'stopped');
  const canAsk = settings.profile.query && state.asked < (isComplete ? QUESTIONS - 1 : QUESTIONS);
  if (canAsk) return ask(settings, { ...next, read: 0 }, at);
  if (isComplete) return secure(settings, next, 'over');
  return { state: { ...next, stage: 'resuming', due: later(at, settings.resumeMs) }, effects: [] };
}

/** The text of a frame: perhaps the end of a record, and with it the end of a test. */
function takeText(settings: Settings, state: AstmState, text: string, isLast: boolean, at: Instant): Step {
  if (!isLast) return { state: { ...state, rest: state.rest + text }, effects: [] };
  let now: AstmState = { ...state, rest: '' };
  const effects: TalkEffect[] = [];
  for (const whole of splitRecords(decodeCharacters(state.rest + text))) {
    const next = takeRecord(settings, now, { text: whole, at });
    now = next.state;
    effects.push(...next.effects);
  }
  return { state: now, effects };
}

function takeRecord(settings: Settings, state: AstmState, record: RecordText): Step {
  switch (record.text.charAt(0)) {
    case 'H': {
      const { patient: _patient, ...rest } = state;
      const next: AstmState = { ...rest, header: record, test: [], read: 0 };
      return { state: next, effects: [progressOf(next, settings, 'reading')] };
    }
    case 'P':
    case 'O':
    case 'L': {
      const told = testEnded(settings, state);
      const isOrder = record.text.startsWith('O');
      const patient = record.text.startsWith('P') ? { patient: record } : {};
      return { state: { ...told.state, ...patient, test: isOrder ? [record] : [] }, effects: told.effects };
    }
    default:
      return { state: state.test.length === 0 ? state : { ...state, test: [...state.test, record] }, effects: [] };
  }
}

/** Tells the test whose last record has come. */
function testEnded(settings: Settings, state: AstmState): Step {
  if (!state.header || state.test.length === 0) return { state, effects: [] };
  const records = [state.header, ...(state.patient ? [state.patient] : []), ...state.test];
  const [told] = messageOf(records, settings.profile)?.tests ?? [];
  if (!told) return { state, effects: [] };
  const next: AstmState = { ...state, read: state.read + 1, test: [] };
  const test = { ...told.test, place: told.test.place || String(next.read) };
  return { state: next, effects: [progressOf(next, settings, 'reading', { test })] };
}

/** The message that a few records of a transfer make. */
const messageOf = (records: readonly RecordText[], profile: MeterProfile) =>
  readMessages({ enqAt: instant(0), records, firstChunk: 0, damaged: 0, refused: 0 }, profile)[0];

function progressOf(
  state: AstmState,
  settings: Settings,
  phase: TalkProgress['phase'],
  more: Pick<TalkProgress, 'test'> = {},
): TalkEffect {
  const meter = state.header && messageOf([state.header], settings.profile)?.meter;
  const held = state.held === undefined ? {} : { held: state.held };
  return { kind: 'progress', progress: { phase, read: state.read, ...(meter ? { meter } : {}), ...held, ...more } };
}

/** All is said: make it safe, then end. */
function secure(settings: Settings, state: AstmState, why: EndReason): Step {
  const { due: _due, quietAt: _quiet, sender: _sender, ...rest } = state;
  const outcome = judge(state, settings.profile, why);
  return {
    state: { ...rest, stage: 'securing', outcome },
    effects: [progressOf(state, settings, 'leaving'), { kind: 'secure' }],
  };
}

function endNow(state: AstmState): Step {
  const { due: _due, quietAt: _quiet, ...rest } = state;
  const outcome = state.outcome ?? { complete: false, clockSet: false };
  return { state: { ...rest, stage: 'ended', outcome }, effects: [{ kind: 'timer-off' }, { kind: 'end', outcome }] };
}
