/**
 * The host's side of a TLP/1 conversation as a pure step function: bytes, the end of the timer and the fate of the
 * port come in; lines to send, timers and progress come out. It wakes the meter, reads its memory until END's proof
 * holds, has it stored, puts the clock right and leaves. Nothing on a meter is ever deleted; its clock is touched only
 * after a complete and safely stored read; after every silence HELLO shows first whether the same meter is still
 * there.
 *
 * One file, since nearly every answer may go on with any question: in two they would need each other.
 */
import type { Instant } from '../../core/instant.ts';
import { formatWall } from '../../core/meter-time.ts';
import type { TestRecord } from '../../core/reading.ts';
import type { Talk, TalkEffect, TalkInput, TalkOutcome } from '../talk.ts';
import { agrees, isDue, untilFullSecond, wallOfSecond } from './clock-check.ts';
import { encodeLine } from './codec.ts';
import { countUnusable, isEndless, keepLines, takeEnd, triedAgain, withRepaired } from './collected.ts';
import { decodeChunk, type LineFrame, NO_TAIL } from './decoder.ts';
import {
  LINE_TIMINGS,
  type LineState,
  type LineTalkOptions,
  type LineTimings,
  type RepairPlan,
  type Resume,
  type Stage,
} from './line-state.ts';
import { type ClockReading, type MeterLine, type MeterMessage, parseMessage, slotOfBody } from './messages.ts';
import { goneOutcome, outcomeNow, refused, report } from './outcome.ts';
import { type Claim, inSlotOrder, isProven } from './proof.ts';
import { endlessTrouble } from './trouble.ts';

export type { LineState, LineTalkOptions, LineTimings } from './line-state.ts';

const INITIAL: LineState = {
  stage: { kind: 'new' },
  tail: NO_TAIL,
  askedAt: 0 as Instant,
  framesSinceAsked: 0,
  goodLines: 0,
  newHeard: false,
  merged: new Map(),
  suspects: new Set(),
  readTries: 0,
  isStale: false,
  wasRenewed: false,
  unusable: 0,
  isProven: false,
  clockSet: false,
};

/** Waits for the rest of a line that is still arriving, before HELLO is sent into it. */
const GRACES = 3;

/** One step's context: what is fixed, when it happened, and the effects so far. */
interface Turn {
  readonly options: LineTalkOptions;
  readonly timings: LineTimings;
  readonly at: Instant;
  readonly effects: TalkEffect[];
}

/** A conversation with one meter that speaks TLP/1. */
export function lineTalk(options: LineTalkOptions): Talk<LineState> {
  const timings = { ...LINE_TIMINGS, ...options.timings };
  return {
    initial: INITIAL,
    step(state, input) {
      const turn: Turn = { options, timings, at: input.at, effects: [] };
      return { state: state.stage.kind === 'ended' ? state : onInput(state, input, turn), effects: turn.effects };
    },
  };
}

function onInput(state: LineState, input: TalkInput, turn: Turn): LineState {
  switch (input.kind) {
    case 'opened':
      return wake(state, { kind: turn.options.watches ? 'watch' : 'read' }, turn);
    case 'bytes':
      return onBytes(state, input.data, turn);
    case 'timer':
      return onTimer(state, turn);
    case 'safe':
      return state.stage.kind === 'securing' ? onSafe(state, turn) : state;
    case 'stop':
      return onStop(state, turn);
    case 'closed':
      return end(state, outcomeNow(state, 'the connection broke'), turn);
  }
}

/** Asks a question for the first time. */
function ask(state: LineState, stage: Stage, line: Uint8Array, waitMs: number, turn: Turn): LineState {
  turn.effects.push({ kind: 'send', data: line }, { kind: 'timer', afterMs: waitMs });
  return { ...state, stage, askedAt: turn.at, framesSinceAsked: 0 };
}

const HELLO = encodeLine('HELLO', { v: 1 });
const READ = encodeLine('READ');
const BYE = encodeLine('BYE');

/** Asks who is there, and goes on with `resume` once the same meter has answered. */
function wake(state: LineState, resume: Resume, turn: Turn): LineState {
  report(state, 'waking', turn.effects);
  return ask(state, { kind: 'waking', tries: 1, graces: 0, resume }, HELLO, turn.timings.wakeMs, turn);
}

/** Asks for the whole memory; one that has changed since the last answer starts afresh. */
function read(state: LineState, turn: Turn): LineState {
  if (state.readTries >= turn.timings.tries) {
    const outcome = outcomeNow(state, 'the rest stayed damaged');
    return leave(state, state.refusal === undefined ? outcome : refused(state), turn);
  }
  const afresh = state.isStale ? { merged: new Map(), suspects: new Set<number>(), wasRenewed: true } : {};
  const next = { ...state, ...afresh, isStale: false, readTries: state.readTries + 1 };
  report(next, 'reading', turn.effects);
  return ask(next, { kind: 'reading', added: 0, sawDamage: false }, READ, turn.timings.firstByteMs, turn);
}

/** Goes on asking for single slots, until END's proof holds or none is left to ask for. */
function repair(state: LineState, plan: RepairPlan, turn: Turn): LineState {
  if (state.isStale) return read(state, turn);
  if (state.claim && isProven(inSlotOrder(state.merged), state.claim)) return afterProof(state, 0, turn);
  const [slot] = plan.slots;
  if (slot === undefined) return read(state, turn);
  report(state, 'repairing', turn.effects);
  const line = encodeLine('READ', { from: slot, to: slot });
  return ask(state, { kind: 'repairing', plan }, line, turn.timings.firstByteMs, turn);
}

function resumeAt(state: LineState, resume: Resume, turn: Turn): LineState {
  switch (resume.kind) {
    case 'read':
      return read(state, turn);
    case 'repair':
      return repair(state, resume.plan, turn);
    case 'recount':
      return state.claim && state.meter && state.claim.count >= state.meter.held
        ? proven(state, turn)
        : read({ ...state, merged: new Map(), suspects: new Set() }, turn);
    case 'set':
      return awaitSecond(state, resume.tries, turn);
    case 'watch':
      return isReadDue(state, turn) ? read(state, turn) : watch(state, turn);
  }
}

/** True where a watched meter is another one, or tells or holds something new. */
function isReadDue(state: LineState, { options }: Turn): boolean {
  const { meter, newHeard } = state;
  const { watches } = options;
  if (!watches || !meter || newHeard) return true;
  const { id, model } = watches.identity;
  return meter.identity.id !== id || meter.identity.model !== model || meter.held !== watches.held;
}

/** All is known: waits for a test told unasked, and asks now and then who is there. */
function watch(state: LineState, turn: Turn): LineState {
  report(state, 'waiting', turn.effects);
  turn.effects.push({ kind: 'timer', afterMs: turn.options.watches?.everyMs ?? 0 });
  return { ...state, stage: { kind: 'watching' } };
}

function onBytes(state: LineState, data: Uint8Array, turn: Turn): LineState {
  const { tail, frames } = decodeChunk(state.tail, data);
  // A line that begins and a line that ends give the answer more time; a trickle without line ends does not.
  const isAlive = frames.length > 0 || state.tail.length === 0;
  if (isAlive && (state.stage.kind === 'reading' || state.stage.kind === 'repairing'))
    turn.effects.push({ kind: 'timer', afterMs: turn.timings.betweenMs });
  let next: LineState = { ...state, tail, lastByteAt: turn.at };
  for (const frame of frames) {
    if (next.stage.kind === 'ended') break;
    next = { ...next, framesSinceAsked: next.framesSinceAsked + 1 };
    next = isEndless(next)
      ? end(next, { ...outcomeNow(next, ''), trouble: endlessTrouble(next) }, turn)
      : onFrame(next, frame, turn);
  }
  return next;
}

function onFrame(state: LineState, frame: LineFrame, turn: Turn): LineState {
  if (frame.kind === 'discarded') return onDamage(state, turn);
  const next = { ...state, goodLines: state.goodLines + 1 };
  const message = parseMessage(frame.body);
  if (message.ok) return onMessage(next, message.value, frame.body, turn);
  // A REC that cannot be used still counts in END's proof: asking for it again would only bring it again.
  if (frame.body.startsWith('REC ')) return onRec(next, slotOfBody(frame.body), frame.body, undefined, turn);
  return onDamage(next, turn);
}

function onMessage(state: LineState, message: MeterMessage, body: string, turn: Turn): LineState {
  switch (message.kind) {
    case 'meter':
      return onMeter(state, message, turn);
    case 'rec':
      return onRec(state, message.slot, body, message.test, turn);
    case 'end':
      return onEnd({ ...state, refusal: undefined }, message, turn);
    case 'new':
      return onNew(state, message.test, turn);
    case 'clock':
      return onClock(state, message.clock, turn);
    case 'err':
      return onErr({ ...state, refusal: message.text ?? message.code }, message.code, turn);
    case 'bye':
      return state.stage.kind === 'leaving' ? end(state, state.stage.outcome, turn) : state;
    case 'other':
      return state;
  }
}

function onDamage(state: LineState, turn: Turn): LineState {
  const { stage } = state;
  if (stage.kind === 'reading') return { ...state, stage: { ...stage, sawDamage: true } };
  // The wanted line is here already: what is damaged is its END, and the proof of the whole will tell.
  if (stage.kind === 'repairing' && stage.got !== undefined) return afterRepair(state, stage.plan, stage.got, turn);
  return state;
}

function onMeter(state: LineState, meter: MeterLine, turn: Turn): LineState {
  const before = state.meter?.identity;
  if (before && (before.id !== meter.identity.id || before.model !== meter.identity.model))
    return end(state, outcomeNow(state, 'another meter was plugged in meanwhile'), turn);
  if (state.stage.kind !== 'waking') return state; // a late answer to a HELLO that was repeated
  const clock = { reading: meter.clock, from: state.askedAt, to: turn.at };
  return resumeAt({ ...state, meter, clock, refusal: undefined }, state.stage.resume, turn);
}

function onRec(
  state: LineState,
  slot: number | undefined,
  body: string,
  test: TestRecord | undefined,
  turn: Turn,
): LineState {
  const { stage } = state;
  if (stage.kind === 'repairing' && slot === stage.plan.slots[0]) {
    const next = { ...state, stage: { ...stage, got: body } };
    report(next, 'repairing', turn.effects, test);
    return next;
  }
  if (stage.kind !== 'reading') return state;
  const lines = {
    ...(slot === undefined ? {} : { slot }),
    body,
    afterDamage: stage.sawDamage,
    ...(stage.lines ? { before: stage.lines } : {}),
  };
  const added = stage.added + (slot === undefined || state.merged.has(slot) ? 0 : 1);
  const next: LineState = { ...state, stage: { ...stage, lines, added, sawDamage: false } };
  report(next, 'reading', turn.effects, test);
  return next;
}

function onEnd(state: LineState, claim: Claim, turn: Turn): LineState {
  const { stage } = state;
  if (stage.kind === 'repairing') {
    if (stage.got !== undefined || claim.count === 0) return afterRepair(state, stage.plan, stage.got, turn);
    return repairAgain(state, stage.plan, turn);
  }
  if (stage.kind !== 'reading') return state;
  const told = takeEnd(state, claim);
  if (told.isProven) return afterProof(told.state, told.slotless, turn);
  return repair(told.state, { slots: told.missing, tries: 1 }, turn);
}

/** The first slot of the plan has been answered, by a line or by none. */
function afterRepair(state: LineState, plan: RepairPlan, got: string | undefined, turn: Turn): LineState {
  return repair(withRepaired(state, plan, got), { slots: plan.slots.slice(1), tries: 1 }, turn);
}

/** The first slot of the plan came damaged, or not at all. */
function repairAgain(state: LineState, plan: RepairPlan, turn: Turn): LineState {
  const next = triedAgain(plan, turn.timings);
  return next ? repair(state, next, turn) : read(state, turn);
}

/** END's proof holds. `slotless`: lines of the answer that count in the proof but tell no slot. */
function afterProof(state: LineState, slotless: number, turn: Turn): LineState {
  if (state.isStale && !state.wasRenewed)
    return read({ ...state, readTries: Math.min(state.readTries, turn.timings.tries - 1) }, turn);
  const next = { ...state, isStale: false, unusable: slotless + countUnusable(state) };
  // The meter said that it holds more than it told: results were deleted since, or one of the two is wrong.
  if (next.claim && next.meter && next.claim.count < next.meter.held) return wake(next, { kind: 'recount' }, turn);
  return proven(next, turn);
}

function proven(state: LineState, turn: Turn): LineState {
  // A test that was made since it said its name counts too.
  const held = state.claim?.count ?? 0;
  const meter = state.meter && { ...state.meter, held: Math.max(held, state.meter.held) };
  const next: LineState = { ...state, ...(meter ? { meter } : {}), isProven: true };
  if (next.unusable > 0) return leave(next, outcomeNow(next, ''), turn);
  turn.effects.push({ kind: 'timer-off' }, { kind: 'secure' });
  return { ...next, stage: { kind: 'securing' } };
}

function onSafe(state: LineState, turn: Turn): LineState {
  const { options, timings, at } = turn;
  if (!options.clockSettable || !state.clock || !isDue(options.setClock, options.zone, state.clock))
    return finish(state, turn);
  // Storing took long: whoever is plugged in now may be another meter, whose clock must not be touched unread.
  if (at - (state.lastByteAt ?? at) >= timings.betweenMs) return wake(state, { kind: 'set', tries: 1 }, turn);
  return awaitSecond(state, 1, turn);
}

function awaitSecond(state: LineState, tries: number, turn: Turn): LineState {
  if (tries > turn.timings.tries) return finish(state, turn);
  report(state, 'setting', turn.effects);
  turn.effects.push({ kind: 'timer', afterMs: untilFullSecond(turn.at) });
  return { ...state, stage: { kind: 'awaiting-second', tries } };
}

function setClock(state: LineState, tries: number, turn: Turn): LineState {
  const asked = wallOfSecond(turn.options.zone, turn.at);
  const line = encodeLine('SET', { t: formatWall(asked) });
  return ask(state, { kind: 'setting', tries, asked }, line, turn.timings.firstByteMs, turn);
}

function onClock(state: LineState, reading: ClockReading, turn: Turn): LineState {
  const { stage } = state;
  if (stage.kind !== 'setting') return state;
  if (!agrees(reading, stage.asked, turn.at - state.askedAt)) return awaitSecond(state, stage.tries + 1, turn);
  return finish({ ...state, clockSet: true }, turn);
}

/** A test that was made while the meter is plugged in. */
function onNew(state: LineState, test: TestRecord, turn: Turn): LineState {
  report(state, 'reading', turn.effects, test);
  if (state.stage.kind === 'watching') return read(state, turn);
  if (state.readTries === 0) return { ...state, newHeard: true };
  return state.isProven ? state : { ...state, isStale: true };
}

function onErr(state: LineState, code: string, turn: Turn): LineState {
  const { stage } = state;
  // `syntax` may be our own line, damaged on its way: asked again like an answer that was lost.
  const isPassing = code === 'busy' || code === 'syntax';
  switch (stage.kind) {
    case 'waking':
      return isPassing ? state : end(state, refused(state), turn);
    case 'reading':
      return isPassing ? pause(keepLines(state), { kind: 'read' }, turn) : leave(state, refused(state), turn);
    case 'repairing': {
      if (code === 'noslot' || code === 'range') return afterRepair(state, stage.plan, undefined, turn);
      const plan = triedAgain(stage.plan, turn.timings);
      if (!isPassing) return leave(state, refused(state), turn);
      return pause(state, plan ? { kind: 'repair', plan } : { kind: 'read' }, turn);
    }
    case 'setting':
      return isPassing ? awaitSecond(state, stage.tries + 1, turn) : finish(state, turn);
    default:
      return state;
  }
}

function pause(state: LineState, resume: Resume, turn: Turn): LineState {
  turn.effects.push({ kind: 'timer', afterMs: turn.timings.busyMs });
  return { ...state, stage: { kind: 'pausing', resume } };
}

function onTimer(state: LineState, turn: Turn): LineState {
  const { stage } = state;
  switch (stage.kind) {
    case 'waking':
      return onStillAsleep(state, stage, turn);
    case 'reading':
      return wake(keepLines(state), { kind: 'read' }, turn);
    case 'repairing': {
      const { plan, got } = stage;
      const next = got === undefined ? triedAgain(plan, turn.timings) : { slots: plan.slots.slice(1), tries: 1 };
      return wake(withRepaired(state, plan, got), next ? { kind: 'repair', plan: next } : { kind: 'read' }, turn);
    }
    case 'pausing':
      return resumeAt(state, stage.resume, turn);
    case 'awaiting-second':
      return setClock(state, stage.tries, turn);
    case 'setting':
      return stage.tries < turn.timings.tries
        ? wake(state, { kind: 'set', tries: stage.tries + 1 }, turn)
        : finish(state, turn);
    case 'watching':
      return wake(state, { kind: 'watch' }, turn);
    case 'leaving':
      return end(state, stage.outcome, turn);
    default:
      return state;
  }
}

function onStillAsleep(state: LineState, stage: Extract<Stage, { kind: 'waking' }>, turn: Turn): LineState {
  const { wakeMs, wakeTries, firstByteMs } = turn.timings;
  const isSpeaking = state.lastByteAt !== undefined && turn.at - state.lastByteAt < wakeMs;
  if (isSpeaking && stage.graces < GRACES) {
    turn.effects.push({ kind: 'timer', afterMs: wakeMs });
    return { ...state, stage: { ...stage, graces: stage.graces + 1 } };
  }
  if (stage.tries >= wakeTries) {
    const outcome = stage.resume.kind === 'watch' ? goneOutcome(state) : outcomeNow(state, 'the meter fell silent');
    return end(state, outcome, turn);
  }
  const tries = stage.tries + 1;
  report(state, 'waking', turn.effects);
  turn.effects.push(
    { kind: 'send', data: HELLO },
    { kind: 'timer', afterMs: tries < wakeTries ? wakeMs : firstByteMs },
  );
  // `askedAt` stays: an answer may belong to any of the HELLOs since the first.
  return { ...state, stage: { ...stage, tries, graces: 0 } };
}

function onStop(state: LineState, turn: Turn): LineState {
  const outcome = outcomeNow(state, 'it was stopped');
  if (state.stage.kind === 'leaving') return state;
  return state.meter ? leave(state, outcome, turn) : end(state, outcome, turn);
}

/** The memory is safe and the clock is dealt with. */
function finish(state: LineState, turn: Turn): LineState {
  const outcome = outcomeNow(state, '');
  if (!turn.options.staysDocked) return leave(state, outcome, turn);
  report(state, 'leaving', turn.effects);
  return end(state, outcome, turn);
}

function leave(state: LineState, outcome: TalkOutcome, turn: Turn): LineState {
  report(state, 'leaving', turn.effects);
  return ask(state, { kind: 'leaving', outcome }, BYE, turn.timings.byeMs, turn);
}

function end(state: LineState, outcome: TalkOutcome, turn: Turn): LineState {
  turn.effects.push({ kind: 'timer-off' }, { kind: 'end', outcome });
  return { ...state, stage: { kind: 'ended' } };
}
