/**
 * The supervisor of one port as a pure step function: what is seen, heard and done at a dock comes in; what to open,
 * hold, close and say comes out. It never gives up: what costs nothing is done for ever, what disturbs a meter or a
 * port is tried on a ladder with a ceiling, and success begins anew. Knows no ports, timers or stores.
 */
import { Fault } from '../core/fault.ts';
import type { Instant } from '../core/instant.ts';
import type { StoredDownload } from '../store/downloads.ts';
import { restAfter } from './pace.ts';
import {
  type DockEffect,
  type DockInput,
  type DockState,
  isEmpty,
  type Manner,
  type Purpose,
  type SupervisorRules,
  troubleOf,
} from './supervisor-state.ts';

export type * from './supervisor-state.ts';

/** A dock whose port was not looked for yet. */
export const newDock = (at: Instant): DockState => ({
  activity: { kind: 'absent' },
  phase: 'absent',
  since: at,
  isOpen: false,
  manner: 0,
  isProven: false,
  failures: 0,
  isAsked: false,
  isTwin: false,
  isStopping: false,
});

/** One step's context: the rules, when it happened, and the effects so far. */
interface Turn {
  readonly rules: SupervisorRules;
  readonly at: Instant;
  readonly effects: DockEffect[];
}

/** The next state of a dock, and what it wants done. */
export function stepDock(
  rules: SupervisorRules,
  before: DockState,
  input: DockInput,
): { readonly state: DockState; readonly effects: readonly DockEffect[] } {
  const turn: Turn = { rules, at: input.at, effects: [] };
  if (before.activity.kind === 'stopped') return { state: before, effects: [] };
  const state = onInput(before, input, turn);
  return {
    state: state.phase === before.phase ? state : { ...state, since: input.at },
    effects: turn.effects,
  };
}

function onInput(state: DockState, input: DockInput, turn: Turn): DockState {
  switch (input.kind) {
    case 'port-seen':
      return onSeen(state, input.port, turn);
    case 'port-gone':
      return onGone(state, input.why, turn);
    case 'opened':
      return state.activity.kind === 'opening' ? onOpened({ ...state, isOpen: true }, turn) : state;
    case 'open-failed':
      return state.activity.kind === 'opening' ? onOpenFailed(state, input.fault, turn) : state;
    case 'progress':
      return state.activity.kind === 'talking' ? onProgress(state, state.activity.purpose, input) : state;
    case 'talk-ended':
      if (state.activity.kind !== 'talking') return state;
      return { ...state, activity: { kind: 'storing', purpose: state.activity.purpose } };
    case 'taken-in':
      return state.activity.kind === 'storing' ? onTakenIn(state, state.activity.purpose, input, turn) : state;
    case 'port-lost':
      if (state.activity.kind === 'talking') return { ...state, isOpen: false }; // the conversation hears it too
      if (state.activity.kind !== 'resting') return state;
      turn.effects.push({ kind: 'look' });
      return rest({ ...state, isOpen: false }, input.fault, turn);
    case 'heard':
      return state.activity.kind === 'resting' && state.isOpen ? tryAgain(state, turn) : state;
    case 'timer':
      return onTimer(state, turn);
    case 'twin':
      return input.isTwin === state.isTwin ? state : { ...state, isTwin: input.isTwin };
    case 'collect-asked':
      return onAsked({ ...state, isAsked: true, setClock: input.setClock }, turn);
    case 'stop':
      return onStop({ ...state, isStopping: true }, input.how, turn);
  }
}

const mannerOf = (state: DockState, rules: SupervisorRules): Manner => rules.manners[state.manner] ?? rules.manners[0];

function onSeen(state: DockState, port: string, turn: Turn): DockState {
  if (state.isStopping) return state;
  if (state.activity.kind === 'absent') return open({ ...state, port, failures: 0 }, turn);
  if (port === state.port) return state;
  // Found again under another name while the old one was still in use: what runs ends, then the new one is opened.
  if (state.activity.kind === 'resting') return open(closed({ ...state, port, failures: 0 }, turn), turn);
  return closed({ ...state, port }, turn);
}

function onGone(state: DockState, why: Fault | undefined, turn: Turn): DockState {
  const { port: _port, ...rest } = state;
  switch (state.activity.kind) {
    case 'absent':
    case 'resting':
      return absent(closed(rest, turn), why, turn);
    default:
      // What runs ends by itself now that its port is closed; then the dock is absent.
      return closed(rest, turn);
  }
}

/** The port is not there: nothing to do until it is seen. */
function absent(state: DockState, why: Fault | undefined, turn: Turn): DockState {
  turn.effects.push({ kind: 'timer-off' });
  const { meter: _meter, held: _held, read: _read, nextTryAt: _next, ...rest } = state;
  const noted = why ? note(rest, why, turn) : rest;
  const next: DockState = { ...noted, activity: { kind: 'absent' }, phase: 'absent', failures: 0 };
  return state.isAsked ? answer(next, [], why ?? missing(), turn) : next;
}

const missing = (): Fault =>
  new Fault(
    'PORT_MISSING',
    'The port of this dock is not there',
    'Plug its cable in; it is read as soon as it is seen.',
  );

function open(state: DockState, turn: Turn): DockState {
  if (state.port === undefined) return absent(state, undefined, turn);
  turn.effects.push({ kind: 'timer-off' }, { kind: 'open', port: state.port, manner: state.manner });
  const { nextTryAt: _next, ...rest } = state;
  return { ...rest, activity: { kind: 'opening' }, phase: 'opening' };
}

function closed(state: DockState, turn: Turn): DockState {
  if (state.isOpen || state.activity.kind === 'opening') turn.effects.push({ kind: 'close' });
  return { ...state, isOpen: false };
}

function onOpened(state: DockState, turn: Turn): DockState {
  if (state.isStopping) return stopped(state, turn);
  if (state.port === undefined) return absent(closed(state, turn), undefined, turn);
  const { meter: _meter, held: _held, ...rest } = state; // whoever was here before: now it is asked anew
  return talk(rest, firstPurpose(state, turn), turn);
}

const firstPurpose = (state: DockState, { rules }: Turn): Purpose => (mannerOf(state, rules).asks ? 'read' : 'watch');

function onOpenFailed(state: DockState, fault: Fault, turn: Turn): DockState {
  if (state.isStopping) return stopped(state, turn);
  turn.effects.push({ kind: 'look' });
  const next = state.isAsked ? answer(state, [], fault, turn) : state;
  return state.port === undefined ? absent(next, fault, turn) : rest(next, fault, turn);
}

/** The rest is over, or a docked meter was not read for long. */
function onTimer(state: DockState, turn: Turn): DockState {
  if (state.activity.kind === 'resting') return tryAgain(state, turn);
  if (isWatching(state, turn)) {
    if (state.isTwin) turn.effects.push({ kind: 'timer', afterMs: turn.rules.pace.rereadMs });
    else turn.effects.push({ kind: 'end-talk' });
  }
  return state;
}

/** True while a meter that can be asked is only watched: such a conversation may be cut short. */
const isWatching = (state: DockState, { rules }: Turn): boolean =>
  state.activity.kind === 'talking' &&
  state.activity.purpose === 'watch' &&
  state.phase === 'docked' &&
  mannerOf(state, rules).asks;

/** Begins a conversation on the open port. */
function talk(state: DockState, purpose: Purpose, turn: Turn): DockState {
  const { manner, meter, held, setClock } = state;
  const watched = purpose === 'watch' ? { meter, held } : {};
  const timer: DockEffect =
    purpose === 'watch' && mannerOf(state, turn.rules).asks
      ? { kind: 'timer', afterMs: turn.rules.pace.rereadMs }
      : { kind: 'timer-off' };
  turn.effects.push(timer, { kind: 'talk', purpose, manner, ...watched, setClock });
  const { nextTryAt: _next, read: _read, ...rest } = state;
  const phase = purpose === 'watch' && meter ? 'docked' : 'identifying';
  return { ...rest, activity: { kind: 'talking', purpose }, phase };
}

function onProgress(
  state: DockState,
  purpose: Purpose,
  { progress }: Extract<DockInput, { kind: 'progress' }>,
): DockState {
  const { meter, held, read } = progress;
  const known: DockState = {
    ...state,
    ...(meter ? { meter, isProven: true } : {}),
    ...(held === undefined ? {} : { held }),
  };
  switch (progress.phase) {
    case 'waking':
    case 'waiting': {
      const isWatched = purpose === 'watch' && known.meter !== undefined;
      if (isWatched || state.phase === 'identifying') return { ...known, phase: isWatched ? 'docked' : 'identifying' };
      return known; // a meter that fell silent in the middle is woken; the dock is still reading it
    }
    case 'reading':
    case 'repairing':
      return { ...known, read, phase: 'reading' };
    case 'setting':
      return { ...known, read, phase: 'setting' };
    case 'leaving':
      return state.phase === 'reading' || state.phase === 'setting' ? { ...known, phase: 'storing' } : known;
  }
}

function onTakenIn(
  state: DockState,
  purpose: Purpose,
  { downloads, fault, isOpen }: Extract<DockInput, { kind: 'taken-in' }>,
  turn: Turn,
): DockState {
  const last = downloads.at(-1);
  const { read: _read, ...kept } = state;
  let next: DockState = { ...kept, isOpen, ...(last ? { lastDownload: last } : {}) };
  const { asks, listens } = mannerOf(next, turn.rules);
  const isWhole = last !== undefined && downloads.every((download) => download.complete);
  if (isWhole) next = succeeded({ ...next, readAt: turn.at }, turn);
  if (state.isAsked && (purpose === 'read' || isWhole || !asks)) next = answer(next, downloads, fault, turn);
  if (next.isStopping) return stopped(next, turn);
  if (next.port === undefined) return absent(next, isWhole ? undefined : fault, turn);
  if (isOpen) {
    if (next.isAsked && asks) return talk(next, 'read', turn);
    if (isWhole) return talk(next, 'watch', turn);
    // A watched meter that left without trouble was exchanged for another.
    if (purpose === 'watch' && !last && !fault && !listens) return talk(next, 'read', turn);
    const isQuiet = !last && (!fault || fault.code === 'METER_SILENT');
    if (listens && isQuiet && (purpose === 'watch' || !asks) && (next.isProven || turn.rules.manners.length === 1)) {
      const isDue = asks && turn.at - (next.readAt ?? turn.at) >= turn.rules.pace.rereadMs;
      return talk(next, isDue ? 'read' : 'watch', turn);
    }
    return rest(next, fault ?? missing(), turn);
  }
  turn.effects.push({ kind: 'look' });
  // All was safe when the port went away: a meter was unplugged, which is no trouble.
  const isPeaceful = purpose === 'watch' && !last && state.meter && (!fault || fault.code === 'PORT_LOST');
  if (isWhole || isPeaceful) return pause(next, isWhole, turn);
  return rest(next, fault ?? missing(), turn);
}

/** A port that went away in peace: looked for again soon, with nothing to say about it. */
function pause(state: DockState, wasJustRead: boolean, { rules, at, effects }: Turn): DockState {
  const { meter: _meter, held: _held, ...next } = state;
  // A device server that hangs up behind each download must not be read without end.
  const afterMs = rules.isNetwork && wasJustRead ? rules.pace.helloMs : rules.pace.restMs;
  effects.push({ kind: 'timer', afterMs });
  return { ...next, activity: { kind: 'resting' }, phase: 'absent', nextTryAt: (at + afterMs) as Instant };
}

/** A whole download is in the store: what was wrong is over. */
function succeeded(state: DockState, turn: Turn): DockState {
  const { trouble, ...rest } = state;
  if (trouble) turn.effects.push({ kind: 'say', what: 'recovered', trouble });
  // A meter that does not stop sending may be read whole and be no better for it: its ladder goes on.
  return { ...rest, failures: trouble?.code === 'METER_ENDLESS' ? state.failures : 0 };
}

/** Failures in a row after which a manner that was detected is doubted. */
const FAILURES_TO_DOUBT = 5;

/** Trouble: said where it is new, then left alone for a while. */
function rest(state: DockState, fault: Fault, turn: Turn): DockState {
  const { pace, manners, isNetwork } = turn.rules;
  const said = note(state, fault, turn);
  // What was detected once may have changed: after a while all manners are tried again.
  const noted = { ...said, isProven: said.isProven && said.failures < FAILURES_TO_DOUBT };
  const { meter: _meter, held: _held, ...next } = noted;
  // Of several manners each gets its turn; only when all have failed does the rest grow.
  const manner = noted.isProven ? noted.manner : (noted.manner + 1) % manners.length;
  const ceiling =
    fault.code === 'DOWNLOAD_CUT' ? pace.rereadMs : isEmpty(fault.code) ? pace.emptyCeilingMs : pace.restCeilingMs;
  const rounds = noted.isProven ? noted.failures : Math.ceil(noted.failures / manners.length);
  const afterMs = restAfter(rounds, pace.restMs, ceiling);
  // A port that is only silent, or whose meter broke off, stays open: the first byte ends the rest.
  const staysOpen =
    (fault.code === 'METER_SILENT' || fault.code === 'DOWNLOAD_CUT') && !isNetwork && manners.length === 1;
  const left = staysOpen ? next : closed(next, turn);
  turn.effects.push({ kind: 'timer', afterMs });
  return {
    ...left,
    manner,
    activity: { kind: 'resting' },
    phase: fault.code === 'PORT_MISSING' ? 'absent' : 'resting',
    nextTryAt: (turn.at + afterMs) as Instant,
  };
}

/** Keeps trouble to show, and says it where it is the first or of another kind than before. */
function note(state: DockState, fault: Fault, turn: Turn): DockState {
  const trouble = troubleOf(fault, turn.at);
  const isSame = state.trouble?.code === fault.code;
  if (!isSame) turn.effects.push({ kind: 'say', what: 'trouble', trouble });
  const goesOn = isSame || fault.code === 'METER_ENDLESS';
  return { ...state, trouble, failures: goesOn ? state.failures + 1 : 1 };
}

const tryAgain = (state: DockState, turn: Turn): DockState =>
  state.isOpen ? talk(state, firstPurpose(state, turn), turn) : open(state, turn);

function onAsked(state: DockState, turn: Turn): DockState {
  const { activity } = state;
  switch (activity.kind) {
    case 'absent':
      return answer(state, [], missing(), turn);
    case 'resting':
      return tryAgain(state, turn);
    case 'talking':
      // One that reads gives the answer itself.
      if (isWatching(state, turn)) turn.effects.push({ kind: 'end-talk' });
      return state;
    default:
      return state;
  }
}

function answer(
  state: DockState,
  downloads: readonly StoredDownload[],
  fault: Fault | undefined,
  turn: Turn,
): DockState {
  turn.effects.push({ kind: 'answer', downloads, fault });
  const { setClock: _setClock, ...rest } = state;
  return { ...rest, isAsked: false };
}

function onStop(state: DockState, how: 'clean' | 'now', turn: Turn): DockState {
  switch (state.activity.kind) {
    case 'talking':
      if (how === 'now') return closed(state, turn);
      turn.effects.push({ kind: 'end-talk' });
      return state;
    case 'storing':
      return state;
    case 'opening':
      return how === 'now' ? stopped(state, turn) : state;
    default:
      return stopped(state, turn);
  }
}

function stopped(state: DockState, turn: Turn): DockState {
  const left = closed(state, turn);
  const next = left.isAsked
    ? answer(left, [], new Fault('PORT_LOST', 'The daemon was stopped', 'Start it again.'), turn)
    : left;
  turn.effects.push({ kind: 'timer-off' }, { kind: 'stopped' });
  return { ...next, activity: { kind: 'stopped' }, phase: 'absent' };
}
