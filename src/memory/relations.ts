/**
 * Compares every known place with every told test once, before the alignment: the same test, a possible conflict
 * with its cost, or nothing in common.
 */
import type { TestRecord } from '../core/reading.ts';
import { CONFLICT, REPEAT, REPEAT_AFTER_LOSS, REPEATED_STAMP } from './costs.ts';
import { isUnsure } from './merge.ts';
import {
  nearContent,
  nearTime,
  type Sighting,
  sameTest,
  sameTime,
  sharesContent,
  sharesRun,
  sharesSlot,
  sharesTime,
  slotsDiffer,
} from './same.ts';
import type { Place } from './standing.ts';
import type { Question } from './steps.ts';

/** Nothing in common. */
export const APART = -1;
/** The same test. */
export const SAME = 0;

const MINUTE = 60_000;

const ALIKE: ReadonlySet<number> = new Set([SAME, CONFLICT.damaged, CONFLICT.damagedWithoutTime]);
/** The same test, or the same but for what one damaged frame can change. */
export const isAlike = (relation: number): boolean => ALIKE.has(relation);

export interface Relations {
  /** SAME, APART, or the cost of a conflict between a known item and a told item. */
  at(known: number, told: number): number;
  /** What it costs that a told test, which equals a known one, is another. */
  otherCost(told: number): number;
  /** What it costs to call a told test new, for its likeness to known ones alone. */
  repeatCost(told: number): number;
}

/** The claimant of a place that the told test can be; -1 if none. */
export const claimantOf = (place: Place, told: Sighting): number =>
  place.tests.findIndex((test) => sameTest(test, told));

function conflictCost(known: Sighting, told: Sighting, weakProtocol: boolean): number {
  if (slotsDiffer(known, told)) return APART;
  const a = known.record;
  const b = told.record;
  const time = sharesTime(a, b);
  const run = sharesRun(a, b);
  const content = sharesContent(a, b);
  if (time && (run || sharesSlot(known, told))) return CONFLICT.placeAndTime;
  // The count of power losses comes by a protocol whose check is strong: another count is another test.
  if (differ(a.lossCount, b.lossCount)) return APART;
  if (run && sameTime(a, b)) return CONFLICT.placeAndTime;
  if ((weakProtocol || isUnsure(a)) && looksDamaged(a, b))
    return a.meterTimeText === '' ? CONFLICT.damagedWithoutTime : CONFLICT.damaged;
  if (run) return content ? CONFLICT.runAndContent : CONFLICT.runOnly;
  if (time) return CONFLICT.time;
  return content && !differ(a.runNumber, b.runNumber) ? CONFLICT.content : APART;
}

/**
 * One of the two may be the other after one damaged frame: E1381 sends a record in a frame, so what differs is the
 * order's (running number), the result's (time, values) or the lot's alone, and by a character or two.
 */
function looksDamaged(a: TestRecord, b: TestRecord): boolean {
  const time = sameTime(a, b);
  const content = sharesContent(a, b);
  if (differ(a.runNumber, b.runNumber)) return time && content && !differ(a.lot, b.lot);
  if (time && content) return true;
  return !differ(a.lot, b.lot) && ((time && nearContent(a, b)) || (content && nearTime(a, b)));
}

const differ = <T>(a: T | undefined, b: T | undefined): boolean => a !== undefined && b !== undefined && a !== b;

function relation(place: Place, told: Sighting, weak: boolean): number {
  let least = APART;
  for (const test of place.tests) {
    if (sameTest(test, told)) return SAME;
    const cost = conflictCost(test, told, weak);
    if (cost !== APART && (least === APART || cost < least)) least = cost;
  }
  return least;
}

/** Keys of which two sightings share at least one if they have anything in common. */
function keysOf({ record }: Sighting): string[] {
  const keys = [`v${record.kind} ${record.errorCode ?? ''} ${record.values[0]?.value ?? ''}`];
  if (record.runNumber !== undefined) keys.push(`n${record.runNumber}`);
  const { meterTime } = record;
  if (!meterTime) keys.push(`t${record.meterTimeText}`);
  else {
    keys.push(`d${meterTime.text.slice(0, 10)}`);
    if (meterTime.resolutionMs <= MINUTE) keys.push(`m${Math.floor(meterTime.wall / MINUTE)}`);
  }
  return keys;
}

/** Conflicts by which a told test has the stamp of the known one, or nearly. */
const SAME_STAMP: ReadonlySet<number> = new Set([CONFLICT.placeAndTime, CONFLICT.damaged, CONFLICT.time]);

/** All relations of a question. Only pairs that share a key are compared in full. */
export function relate(question: Question): Relations {
  const { known, sightings, weak } = question;
  const width = sightings.length;
  const table = new Int16Array(known.length * width).fill(APART);
  const others = new Int32Array(width);
  const stamps = new Int32Array(width);
  const coarse =
    known.some((k) => k.kind === 'place' && k.tests.some((t) => isCoarse(t))) ||
    sightings.some((s) => s && isCoarse(s));
  const byKey = new Map<string, { readonly k: number; readonly place: Place }[]>();
  known.forEach((place, k) => {
    if (place.kind === 'gap') return;
    for (const key of new Set(place.tests.flatMap((test) => usedKeys(test, coarse)))) {
      const list = byKey.get(key);
      if (list) list.push({ k, place });
      else byKey.set(key, [{ k, place }]);
    }
  });
  sightings.forEach((told, t) => {
    if (!told) return;
    for (const key of usedKeys(told, coarse)) {
      for (const { k, place } of byKey.get(key) ?? []) table[k * width + t] = relation(place, told, weak);
    }
    const column = known.map((_, k) => table[k * width + t] ?? APART);
    const mayRepeat = question.clock.mayRepeat(told);
    if (column.includes(SAME)) others[t] = mayRepeat ? REPEAT_AFTER_LOSS : REPEAT;
    // A stamp between the last download and now is one that a new test has anyway.
    const mayBeOld = !mayRepeat && question.clock.stampedWhen(told) !== 'since';
    if (mayBeOld && column.some((relation) => SAME_STAMP.has(relation))) stamps[t] = REPEATED_STAMP;
  });

  return {
    at: (k, t) => table[k * width + t] ?? APART,
    otherCost: (t) => others[t] ?? 0,
    repeatCost: (t) => Math.max(others[t] ?? 0, stamps[t] ?? 0),
  };
}
/** A stamp that names a day only can only be compared by the day. */
const isCoarse = ({ record }: Sighting): boolean => (record.meterTime?.resolutionMs ?? 0) > MINUTE;

// The day is a needless key, met by very many pairs, where all stamps have minutes.
const usedKeys = (s: Sighting, coarse: boolean): string[] => keysOf(s).filter((key) => coarse || !key.startsWith('d'));
