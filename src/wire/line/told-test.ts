/**
 * The test record that a REC or NEW line tells. Three things are kept with a flag where others make the line a bad value,
 * because a result must not be lost over them: a time that does not exist, a value that is no decimal, and an expiry that
 * is no date.
 */
import { bad, good, type Parsed } from '../../core/fault.ts';
import { parseMeterTime } from '../../core/meter-time.ts';
import type { ReadingKind, TestRecord, Value } from '../../core/reading.ts';
import { type Fields, naturalOf, timeOf } from './fields.ts';

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
 * The test that a REC or NEW line tells; bad where a fact that it must have is missing or is none. Filled in step by step
 * and not spread together: every result of every meter goes through here.
 */
export function testOf(fields: Fields, place: string): Parsed<TestRecord> {
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
