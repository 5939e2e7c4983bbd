/**
 * What the lines of a meter mean: typed messages from a body, and test records from REC and NEW. A line that lacks
 * what it must have, or whose numbers are none, is a bad value and never half used. Two things are kept with a flag
 * instead, because a result must not be lost over them: a time that does not exist, and a value that is no decimal.
 */
import type { MemoryOrder, MeterIdentity } from '../../core/download.ts';
import { bad, good, type Parsed } from '../../core/fault.ts';
import { type MeterTime, parseMeterTime, type Wall } from '../../core/meter-time.ts';
import type { ReadingKind, TestRecord, Value } from '../../core/reading.ts';
import { type Body, parseBody } from './codec.ts';

/** What a clock reading shows. `unreadable`: a text that is no time, or a time that does not exist. */
export type ClockReading =
  | { readonly kind: 'shown'; readonly time: MeterTime }
  | { readonly kind: 'unset' }
  | { readonly kind: 'unreadable'; readonly text: string };

/** The answer to HELLO. */
export interface MeterLine {
  readonly kind: 'meter';
  readonly identity: MeterIdentity;
  /** Slots. */
  readonly capacity: number;
  /** Results in the memory now. */
  readonly held: number;
  readonly order: MemoryOrder;
  /** Rings only: the slot that will be written next. */
  readonly next?: number;
  readonly lossCount?: number;
  readonly resetStamp?: Wall;
  readonly clock: ClockReading;
}

/** Everything that a meter can say. */
export type MeterMessage =
  | MeterLine
  | { readonly kind: 'rec'; readonly slot: number; readonly test: TestRecord }
  /** A test sent unasked; its record has the place `n` until whoever keeps it gives it a number. */
  | { readonly kind: 'new'; readonly test: TestRecord }
  | { readonly kind: 'end'; readonly count: number; readonly crc: number }
  | { readonly kind: 'clock'; readonly clock: ClockReading }
  | { readonly kind: 'err'; readonly code: string; readonly text?: string }
  | { readonly kind: 'bye' }
  /** A well-formed line with a verb that this version does not know. */
  | { readonly kind: 'other'; readonly verb: string };

/** The meaning of a line's body. */
export function parseMessage(text: string): Parsed<MeterMessage> {
  const body = parseBody(text);
  if (!body.ok) return body;
  const { verb, fields } = body.value;
  switch (verb) {
    case 'REC':
      return recOf(fields);
    case 'NEW': {
      const test = testOf(fields, 'n');
      return test.ok ? good({ kind: 'new', test: test.value }) : test;
    }
    case 'END':
      return endOf(fields);
    case 'METER':
      return meterOf(fields);
    case 'CLOCK': {
      const shown = fields.get('t');
      return shown === undefined ? bad('CLOCK lacks t') : good({ kind: 'clock', clock: clockOf(shown) });
    }
    case 'ERR': {
      const code = fields.get('e');
      const text = fields.get('m');
      if (code === undefined) return bad('ERR lacks e');
      return good({ kind: 'err', code, ...(text === undefined ? {} : { text }) });
    }
    case 'BYE':
      return good({ kind: 'bye' });
    default:
      return good({ kind: 'other', verb });
  }
}

/** The slot of a REC line's body, even where the rest of the line cannot be used; undefined where it tells none. */
export function slotOfBody(text: string): number | undefined {
  const body = parseBody(text);
  return body.ok && body.value.verb === 'REC' ? naturalOf(body.value.fields.get('i')) : undefined;
}

type Fields = Body['fields'];

/** A whole number from 0, of at most 9 digits; undefined for anything else. */
function naturalOf(text: string | undefined): number | undefined {
  if (text === undefined || text.length > 9) return undefined;
  let value = 0;
  for (let i = 0; i < text.length; i++) {
    const digit = text.charCodeAt(i) - 0x30;
    if (digit < 0 || digit > 9) return undefined;
    value = value * 10 + digit;
  }
  return value;
}

const TIME_LENGTHS: readonly number[] = ['2026-03-02T10:15'.length, '2026-03-02T10:15:00'.length];

/** A time of the line protocol; undefined where it does not exist or is a mere date. */
function timeOf(text: string): MeterTime | undefined {
  if (!TIME_LENGTHS.includes(text.length)) return undefined;
  const time = parseMeterTime(text);
  return time.ok ? time.value : undefined;
}

function clockOf(text: string): ClockReading {
  if (text === '-') return { kind: 'unset' };
  const time = timeOf(text);
  return time ? { kind: 'shown', time } : { kind: 'unreadable', text };
}

const ORDERS: readonly string[] = ['newest', 'oldest', 'ring'] satisfies MemoryOrder[];
const isOrder = (text: string | undefined): text is MemoryOrder => text !== undefined && ORDERS.includes(text);
// A meter's name is a key in the store: it must be text that can be read aloud.
const hasControl = (text: string): boolean => /\p{Cc}/u.test(text);

/** No handheld meter has more; a larger number would only make the gateway reserve room for nothing. */
const MAX_SLOTS = 100_000;

function meterOf(fields: Fields): Parsed<MeterLine> {
  const id = fields.get('id');
  const model = fields.get('model');
  const firmware = fields.get('fw');
  const capacity = naturalOf(fields.get('cap'));
  const held = naturalOf(fields.get('held'));
  const order = fields.get('order');
  const clock = fields.get('clock');
  if (fields.get('v') !== '1') return bad('METER is not of version 1');
  if (id === undefined || model === undefined || hasControl(id + model)) return bad('METER lacks a plain id or model');
  if (capacity === undefined || capacity < 1 || capacity > MAX_SLOTS)
    return bad(`METER lacks cap, a number from 1 to ${MAX_SLOTS}`);
  if (held === undefined || held > capacity) return bad('METER lacks held, a number up to cap');
  if (!isOrder(order)) return bad('METER lacks order: newest, oldest or ring');
  if (clock === undefined) return bad('METER lacks clock');
  const next = naturalOf(fields.get('next'));
  if (fields.has('next') && (next === undefined || next < 1 || next > capacity)) return bad('METER: next is no slot');
  const lossCount = naturalOf(fields.get('loss'));
  if (fields.has('loss') && lossCount === undefined) return bad('METER: loss is no number');
  const reset = timeOf(fields.get('reset') ?? '');
  return good({
    kind: 'meter',
    identity: { id, model, ...(firmware === undefined ? {} : { firmware }) },
    capacity,
    held,
    order,
    ...(next === undefined ? {} : { next }),
    ...(lossCount === undefined ? {} : { lossCount }),
    ...(reset === undefined ? {} : { resetStamp: reset.wall }),
    clock: clockOf(clock),
  });
}

function endOf(fields: Fields): Parsed<MeterMessage> {
  const count = naturalOf(fields.get('n'));
  const sum = fields.get('x') ?? '';
  if (count === undefined) return bad('END lacks n');
  if (!/^[0-9A-F]{4}$/.test(sum)) return bad('END lacks x, four upper-case hexadecimal digits');
  return good({ kind: 'end', count, crc: Number.parseInt(sum, 16) });
}

function recOf(fields: Fields): Parsed<MeterMessage> {
  const slot = naturalOf(fields.get('i'));
  if (slot === undefined || slot < 1) return bad('REC lacks i, a slot');
  const test = testOf(fields, String(slot));
  return test.ok ? good({ kind: 'rec', slot, test: test.value }) : test;
}

const KINDS: ReadonlyMap<string, ReadingKind> = new Map([
  ['p', 'patient'],
  ['c', 'control'],
  ['e', 'error'],
]);

/** Keys of the first to fourth value. */
const VALUE_KEYS = [
  { a: 'a', v: 'v', u: 'u' },
  { a: 'a2', v: 'v2', u: 'u2' },
  { a: 'a3', v: 'v3', u: 'u3' },
  { a: 'a4', v: 'v4', u: 'u4' },
] as const;

type Writable<T> = { -readonly [K in keyof T]: T[K] };

const NO_VALUES: readonly Value[] = [];
const NO_FLAGS: readonly string[] = [];

/**
 * The test that a REC or NEW line tells. Filled in step by step and not spread together: every result of every meter
 * goes through here.
 */
function testOf(fields: Fields, place: string): Parsed<TestRecord> {
  const time = fields.get('t');
  const kind = KINDS.get(fields.get('k') ?? '');
  if (time === undefined) return bad('the test lacks t');
  if (kind === undefined) return bad('the test lacks k: p, c or e');
  const values = kind === 'error' ? NO_VALUES : valuesOf(fields);
  if (typeof values === 'string') return bad(values);

  const test: Writable<TestRecord> = { place, meterTimeText: time, kind, values, flags: NO_FLAGS };
  // Keys that have a meaning; what is left over goes into `extra`.
  let used = 2 + values.length * 3;
  const problem = takeNumbers(test, fields);
  if (problem !== undefined) return bad(problem);
  if (test.slot !== undefined) used++;
  if (test.runNumber !== undefined) used++;
  if (test.lossCount !== undefined) used++;
  const flags: string[] = [];
  const meterFlags = fields.get('f');
  if (meterFlags !== undefined) {
    flags.push(...meterFlags.split(',').filter((flag) => flag !== ''));
    used++;
  }
  if (kind === 'error') {
    const errorCode = fields.get('e');
    if (errorCode === undefined) return bad('a test that ended in an error lacks e');
    test.errorCode = errorCode;
    used++;
  }
  for (const { value } of values) if (!isDecimal(value) && flags.at(-1) !== UNREADABLE) flags.push(UNREADABLE);
  if (time === '-') test.meterTimeText = '';
  else {
    const meterTime = timeOf(time);
    if (meterTime) test.meterTime = meterTime;
    else flags.push('time-unreadable');
  }
  const lot = fields.get('lot');
  if (lot !== undefined) {
    test.lot = lot;
    used++;
  }
  const expiry = fields.get('exp');
  if (expiry !== undefined) {
    if (isExpiry(expiry)) {
      test.lotExpiry = expiry;
      used++;
    } else flags.push('expiry-unreadable');
  }
  const operator = fields.get('op');
  if (operator !== undefined) {
    test.operator = operator;
    used++;
  }
  const patientId = fields.get('pid');
  if (patientId !== undefined) {
    test.patientId = patientId;
    used++;
  }
  if (flags.length > 0) test.flags = flags;
  if (used < fields.size) test.extra = extraOf(fields, kind, test.lotExpiry !== undefined);
  return good(test);
}

const UNREADABLE = 'value-unreadable';

/** Slot, running number and loss count: each may be absent, none may be anything but a number. */
function takeNumbers(test: Writable<TestRecord>, fields: Fields): string | undefined {
  const slot = fields.get('i');
  if (slot !== undefined) {
    const number = naturalOf(slot);
    if (number === undefined || number < 1) return 'i is no slot';
    test.slot = number;
  }
  const run = fields.get('n');
  if (run !== undefined) {
    const number = naturalOf(run);
    if (number === undefined) return 'n is no number';
    test.runNumber = number;
  }
  const losses = fields.get('c');
  if (losses !== undefined) {
    const number = naturalOf(losses);
    if (number === undefined) return 'c is no number';
    test.lossCount = number;
  }
  return undefined;
}

/** One to four values, or what is wrong with them. */
function valuesOf(fields: Fields): readonly Value[] | string {
  const values: Value[] = [];
  let isOver = false;
  for (const keys of VALUE_KEYS) {
    const analyte = fields.get(keys.a);
    const value = fields.get(keys.v);
    const unit = fields.get(keys.u);
    if (analyte === undefined && value === undefined && unit === undefined) {
      isOver = true;
      continue;
    }
    if (analyte === undefined || value === undefined || unit === undefined)
      return `${keys.a}, ${keys.v} and ${keys.u} belong together`;
    if (isOver) return `${keys.a} stands without the values before it`;
    values.push({ analyte, value, unit });
  }
  return values.length === 0 ? 'the test lacks a, v and u' : values;
}

/** A decimal, perhaps with `<` or `>` in front. */
function isDecimal(text: string): boolean {
  const first = text.charCodeAt(0);
  let i = first === 0x3c || first === 0x3e ? 1 : 0;
  if (text.charCodeAt(i) === 0x2d) i++;
  let digits = 0;
  let hasPoint = false;
  for (; i < text.length; i++) {
    const c = text.charCodeAt(i);
    if (c >= 0x30 && c <= 0x39) digits++;
    else if (c === 0x2e && digits > 0 && !hasPoint && i < text.length - 1) hasPoint = true;
    else return false;
  }
  return digits > 0;
}

/** `YYYY-MM` or `YYYY-MM-DD` of a day that exists. */
const isExpiry = (text: string): boolean =>
  (text.length === 7 && parseMeterTime(`${text}-01`).ok) || (text.length === 10 && parseMeterTime(text).ok);

const KNOWN_KEYS: ReadonlySet<string> = new Set(['i', 'n', 't', 'k', 'lot', 'op', 'pid', 'f', 'c']);
const KEYS_OF_VALUES: ReadonlySet<string> = new Set(VALUE_KEYS.flatMap((k) => [k.a, k.v, k.u]));

/** Keys that have no meaning here, kept as given. */
function extraOf(fields: Fields, kind: ReadingKind, expiryIsKnown: boolean): Record<string, string> {
  const extra: Record<string, string> = {};
  for (const [key, value] of fields) {
    if (KNOWN_KEYS.has(key) || (key === 'exp' && expiryIsKnown)) continue;
    if (kind === 'error' ? key === 'e' : KEYS_OF_VALUES.has(key)) continue;
    extra[key] = value;
  }
  return extra;
}
