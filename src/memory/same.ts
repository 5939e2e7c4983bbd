/**
 * Whether a test told by a download can be a test that is known. Two sightings may come by two protocols with
 * different facts, so only what both have is compared. Flags, operator, patient id and extra keys say nothing here.
 */
import type { MeterTime } from '../core/meter-time.ts';
import type { TestRecord, Value } from '../core/reading.ts';

/** One sighting as settling compares it. */
export interface Sighting {
  readonly record: TestRecord;
  /** Slot that a ring memory keeps, where the line protocol told it. */
  readonly ringSlot?: number;
}

const agree = <T>(a: T | undefined, b: T | undefined): boolean => a === undefined || b === undefined || a === b;
const bothAre = <T>(a: T | undefined, b: T | undefined): boolean => a !== undefined && a === b;

const sameMoment = (a: MeterTime, b: MeterTime): boolean => {
  const coarser = Math.max(a.resolutionMs, b.resolutionMs);
  return Math.floor(a.wall / coarser) === Math.floor(b.wall / coarser);
};

/** Stamps agree at the coarser of the two resolutions; as raw text where neither can be read. */
export function sameTime(a: TestRecord, b: TestRecord): boolean {
  if (a.meterTime && b.meterTime) return sameMoment(a.meterTime, b.meterTime);
  return a.meterTime === undefined && b.meterTime === undefined && a.meterTimeText === b.meterTimeText;
}

/** Stamps agree and say something: a clock that was not set names no moment. */
export const sharesTime = (a: TestRecord, b: TestRecord): boolean => a.meterTimeText !== '' && sameTime(a, b);

// A unit that was not given is an absent fact, not another unit.
const sameValue = (a: Value, b: Value): boolean =>
  a.analyte === b.analyte && a.value === b.value && (a.unit === '' || b.unit === '' || a.unit === b.unit);

/** All of the shorter values stand in the longer ones, in the same order. */
function within(shorter: readonly Value[], longer: readonly Value[]): boolean {
  let at = 0;
  for (const value of longer) {
    const next = shorter[at];
    if (next && sameValue(next, value)) at++;
  }
  return at === shorter.length;
}

/** What a record tells of the result for sure: one that was cut may lack values, and what looks like none may be an error. */
const toldValues = (r: TestRecord): readonly Value[] => (r.open ? r.values.filter((v) => v.value !== '') : r.values);

/** An error test that was cut before its code came: E1394 says `X` first, and the code in a comment behind it. */
const isUnfinishedError = (r: TestRecord): boolean =>
  r.open === true && r.kind === 'error' && (r.errorCode === undefined || r.errorCode === 'X');

/** Kind, all values or the error code agree. A record that was cut agrees with one that goes on behind it. */
function compatibleResults(a: TestRecord, b: TestRecord): boolean {
  const x = toldValues(a);
  const y = toldValues(b);
  if (a.open && a.kind !== 'error' && x.length === 0 && b.kind === 'error') return true;
  if (b.open && b.kind !== 'error' && y.length === 0 && a.kind === 'error') return true;
  if (isUnfinishedError(a) ? b.kind === 'error' : isUnfinishedError(b) && a.kind === 'error') return true;
  if (a.kind !== b.kind || a.errorCode !== b.errorCode) return false;
  if (x.length < y.length) return a.open === true && within(x, y);
  if (x.length > y.length) return b.open === true && within(y, x);
  return within(x, y);
}

/** What was measured is the same. False where neither tells anything. */
export const sharesContent = (a: TestRecord, b: TestRecord): boolean =>
  (a.values.length > 0 || a.errorCode !== undefined) && compatibleResults(a, b);

/** Two texts of which one may be the other with a character or two changed on the way. */
function near(a: string, b: string): boolean {
  if (a.length === b.length) return a.split('').filter((letter, at) => letter !== b[at]).length <= 2;
  const [short, long] = a.length < b.length ? [a, b] : [b, a];
  let start = 0;
  // Where the short one ends, the long one goes on.
  while (short[start] === long[start]) start++;
  return long.length - short.length <= 2 && long.endsWith(short.slice(start));
}

/** Stamps that differ in a character or two, as far as both go. */
export function nearTime(a: TestRecord, b: TestRecord): boolean {
  const length = Math.min(a.meterTimeText.length, b.meterTimeText.length);
  return length > 0 && near(a.meterTimeText.slice(0, length), b.meterTimeText.slice(0, length));
}

/** Results of one kind that differ in a character or two of a value or code, as far as a cut one goes. */
export function nearContent(a: TestRecord, b: TestRecord): boolean {
  const [short, long] = a.values.length < b.values.length ? [a, b] : [b, a];
  return (
    a.kind === b.kind &&
    near(a.errorCode ?? '', b.errorCode ?? '') &&
    (short.values.length === long.values.length || short.open === true) &&
    short.values.every((value, i) => near(value.value, long.values[i]?.value ?? ''))
  );
}

/** Both carry the same running number. */
export const sharesRun = (a: TestRecord, b: TestRecord): boolean => bothAre(a.runNumber, b.runNumber);

/** Both sit in the same slot of a ring. */
export const sharesSlot = (a: Sighting, b: Sighting): boolean => bothAre(a.ringSlot, b.ringSlot);

/** A ring keeps slots: two sightings in two slots are two tests. */
export const slotsDiffer = (a: Sighting, b: Sighting): boolean => !agree(a.ringSlot, b.ringSlot);

/** Everything that both sightings tell of the test agrees. */
export function sameTest(a: Sighting, b: Sighting): boolean {
  const x = a.record;
  const y = b.record;
  return (
    !slotsDiffer(a, b) &&
    agree(x.runNumber, y.runNumber) &&
    sameTime(x, y) &&
    compatibleResults(x, y) &&
    agree(x.lot, y.lot) &&
    agree(x.lossCount, y.lossCount)
  );
}
