/**
 * What the lines of a meter mean: typed messages from a body. A line that lacks what it must have, or whose numbers are
 * none, is a bad value and never half used.
 */
import type { MemoryOrder, MeterIdentity } from '../../core/download.ts';
import { bad, good, type Parsed } from '../../core/fault.ts';
import type { MeterTime, Wall } from '../../core/meter-time.ts';
import type { TestRecord } from '../../core/reading.ts';
import { parseBody } from './codec.ts';
import { type Fields, naturalOf, timeOf } from './fields.ts';
import { testOf } from './told-test.ts';

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
