/**
 * The meter side of TLP/1: it answers HELLO, CLOCK, SET, READ and BYE, tells tests that end while it is docked, and
 * sleeps. Pure. See the line protocol's page for every rule; nothing here deletes a result.
 */
import { type Instant, instant } from '../core/instant.ts';
import { formatWall, parseMeterTime } from '../core/meter-time.ts';
import { frameBody } from '../wire/line/codec.ts';
import { crc16Text, crcHex } from '../wire/line/crc16.ts';
import { pair, readBody, takeBodies } from './line-text.ts';
import { bySlot, type SlotEntry, type StoredTest } from './memory.ts';
import { makeTest, setMeterClock, shownClock, type VirtualMeter } from './meter.ts';
import type { Send, Speaker, SpeakerInput, SpeakerStep } from './speaker.ts';

/** Habits of a meter on the line. */
export interface LineHabits {
  /** HELLOs that it needs before it is awake. */
  readonly sleepsThrough: number;
  /** It falls asleep again after this long without a line from the host. */
  readonly sleepsAfterMs: number;
  /** From the end of a question to the beginning of the answer. */
  readonly answersAfterMs: number;
  /** False: it refuses SET with ERR. */
  readonly clockCanBeSet: boolean;
}

/** A quick, wakeful meter; meters of this class switch themselves off after some five idle minutes. */
export const LINE_HABITS: LineHabits = {
  sleepsThrough: 0,
  sleepsAfterMs: 300_000,
  answersAfterMs: 0,
  clockCanBeSet: true,
};

export interface LineState {
  readonly meter: VirtualMeter;
  readonly rest: Uint8Array;
  /** HELLOs that it will still sleep through; 0: awake. */
  readonly asleepFor: number;
  readonly heardAt?: Instant;
  /** Between METER and BYE: only then are new tests told unasked. */
  readonly isDocked: boolean;
}

/** A meter that speaks TLP/1. */
export function lineSpeaker(habits: LineHabits = LINE_HABITS): Speaker<LineState> {
  return {
    begin: (meter) => ({ meter, rest: new Uint8Array(0), asleepFor: habits.sleepsThrough, isDocked: false }),
    step: (state, input) => step(habits, state, input),
  };
}

function step(habits: LineHabits, state: LineState, input: SpeakerInput): SpeakerStep<LineState> {
  switch (input.kind) {
    case 'opened':
      return { state: { ...state, rest: new Uint8Array(0), isDocked: false }, sends: [] };
    case 'wake':
      return { state, sends: [] };
    case 'test':
      return tell(state, input);
    case 'bytes': {
      const { bodies, rest } = takeBodies(state.rest, input.data);
      const sends: Send[] = [];
      let now: LineState = { ...state, rest };
      for (const body of bodies) {
        const answered = answer(habits, now, body, input.at);
        now = answered.state;
        sends.push(...answered.sends);
      }
      return { state: now, sends };
    }
  }
}

/** A test ends: it is kept, and told as NEW where somebody listens. */
function tell(state: LineState, input: SpeakerInput & { kind: 'test' }): SpeakerStep<LineState> {
  const meter = makeTest(state.meter, input.at, input.facts);
  const entry = bySlot(meter.memory).find(({ test }) => test.made === meter.memory.made);
  if (!state.isDocked || !entry) return { state: { ...state, meter }, sends: [] };
  const data = frameBody(`NEW ${testKeys(meter, entry)}`);
  return {
    state: { ...state, meter },
    sends: [{ from: input.at, data, tells: { made: entry.test.made, last: true } }],
  };
}

function answer(habits: LineHabits, before: LineState, body: string, at: Instant): SpeakerStep<LineState> {
  const read = readBody(body);
  const idleMs = before.heardAt === undefined ? 0 : at - before.heardAt;
  const dozed = before.asleepFor === 0 && idleMs > habits.sleepsAfterMs;
  const asleepFor = dozed ? habits.sleepsThrough : before.asleepFor;
  const state: LineState = { ...before, heardAt: at, asleepFor, isDocked: before.isDocked && !dozed };
  if (asleepFor > 0) {
    return { state: { ...state, asleepFor: read?.verb === 'HELLO' ? asleepFor - 1 : asleepFor }, sends: [] };
  }
  const from = instant(at + habits.answersAfterMs);
  const say = (next: LineState, ...bodies: string[]): SpeakerStep<LineState> => ({
    state: next,
    sends: bodies.map((text) => ({ from, data: frameBody(text) })),
  });
  const { meter } = state;
  if (!read) return say(state, 'ERR e=syntax');
  switch (read.verb) {
    case 'HELLO':
      if (read.keys.get('v') !== '1') return say(state, 'ERR e=unknown m=version');
      return say({ ...state, isDocked: true }, meterBody(meter, from));
    case 'CLOCK':
      return say(state, `CLOCK t=${shownClock(meter, from)}`);
    case 'SET': {
      if (!habits.clockCanBeSet) return say(state, 'ERR e=unknown');
      const text = read.keys.get('t');
      if (text === undefined) return say(state, 'ERR e=syntax');
      const time = parseMeterTime(text);
      if (!time.ok || !text.includes('T')) return say(state, 'ERR e=range');
      const set = setMeterClock(meter, at, time.value.wall);
      return say({ ...state, meter: set }, `CLOCK t=${shownClock(set, from)}`);
    }
    case 'READ': {
      const wanted = slotsAsked(read.keys, meter);
      if (typeof wanted === 'string') return say(state, `ERR e=${wanted}`);
      return { state, sends: memorySends(meter, wanted, from) };
    }
    case 'BYE':
      return say({ ...state, isDocked: false, asleepFor: habits.sleepsThrough }, 'BYE');
    default:
      return say(state, 'ERR e=unknown');
  }
}

/** The results that a READ asks for, or the word of the error. */
function slotsAsked(
  keys: ReadonlyMap<string, string>,
  meter: VirtualMeter,
): SlotEntry[] | 'syntax' | 'range' | 'noslot' {
  const entries = bySlot(meter.memory);
  const [from, to] = [keys.get('from'), keys.get('to')];
  if (from === undefined && to === undefined) return entries;
  if (from === undefined || to === undefined || !/^\d+$/.test(from + to)) return 'syntax';
  const [first, last] = [Number(from), Number(to)];
  if (first < 1 || first > last || last > meter.memory.capacity) return 'range';
  const wanted = entries.filter(({ slot }) => slot >= first && slot <= last);
  return wanted.length === 0 ? 'noslot' : wanted;
}

function memorySends(meter: VirtualMeter, entries: readonly SlotEntry[], from: Instant): Send[] {
  const bodies = entries.map((entry) => `REC ${testKeys(meter, entry)}`);
  const proof = crcHex(crc16Text(bodies.map((body) => `${body}\n`).join('')));
  return [
    ...bodies.map((body, i) => {
      const made = entries[i]?.test.made ?? 0;
      return { from, data: frameBody(body), tells: { made, last: true } };
    }),
    { from, data: frameBody(`END n=${bodies.length} x=${proof}`) },
  ];
}

function meterBody(meter: VirtualMeter, at: Instant): string {
  const { memory, clock } = meter;
  return [
    'METER v=1',
    pair('id', meter.id),
    pair('model', meter.model),
    pair('fw', meter.firmware),
    `cap=${memory.capacity} held=${memory.held.length} order=${memory.order}`,
    ...(memory.order === 'ring' ? [`next=${memory.next}`] : []),
    ...(meter.tellsLosses ? [`loss=${clock.losses}`] : []),
    ...(meter.tellsDefault && clock.defaultStamp !== undefined
      ? [`reset=${formatWall(clock.defaultStamp, meter.clockResolutionMs)}`]
      : []),
    `clock=${shownClock(meter, at)}`,
  ].join(' ');
}

/** The keys of REC and NEW, in the order of the protocol's page. */
function testKeys(meter: VirtualMeter, { slot, test }: SlotEntry): string {
  const { head, flags } = fixedKeys(test);
  const run = meter.tellsRunNumbers ? ` n=${test.runNumber}` : '';
  const losses = meter.tellsLosses ? ` c=${test.losses}` : '';
  return `i=${slot}${run} ${head}${losses}${flags}`;
}

// A memory is told again and again, and most of what it says of a test never changes.
const fixed = new WeakMap<StoredTest, { readonly head: string; readonly flags: string }>();

function fixedKeys(test: StoredTest): { readonly head: string; readonly flags: string } {
  const known = fixed.get(test);
  if (known) return known;
  const optional = (key: string, value: string | undefined): string[] => (value ? [pair(key, value)] : []);
  const head = [
    `t=${test.stamp}`,
    ...resultKeys(test),
    ...optional('lot', test.lot),
    ...optional('exp', test.lotExpiry),
    ...optional('op', test.operator),
    ...optional('pid', test.patientId),
  ].join(' ');
  const flags = test.flags?.length ? ` ${pair('f', test.flags.join(','))}` : '';
  const made = { head, flags };
  fixed.set(test, made);
  return made;
}

function resultKeys(test: StoredTest): string[] {
  if (test.kind === 'error') return ['k=e', pair('e', test.errorCode ?? 'E0')];
  return [
    test.kind === 'control' ? 'k=c' : 'k=p',
    ...test.values.flatMap(({ analyte, value, unit }, i) => {
      const n = i === 0 ? '' : String(i + 1);
      return [pair(`a${n}`, analyte), pair(`v${n}`, value), pair(`u${n}`, unit)];
    }),
  ];
}
