/**
 * How a test left the memory. A full memory overwrites its oldest test for each new one; a person can delete any.
 * Which of the two it was is said only where the counts prove it.
 */
import type { Download } from '../core/download.ts';
import type { Standing } from './standing.ts';
import type { Departure } from './state.ts';
import type { Question, Step } from './steps.ts';

/**
 * How many of the oldest places can have been overwritten when so many tests came after all known ones. In a full
 * memory the oldest test goes first, so a place is pressed out only by what is newer than it.
 */
function mostOverwritten(known: readonly Standing[], added: number, capacity: number): number {
  const pressedOut: boolean[] = [];
  let newer = added;
  for (const item of known.toReversed()) {
    if (item.kind === 'place') pressedOut.push(newer >= capacity);
    newer += item.kind === 'place' ? 1 : (item.gap.atMost ?? Number.POSITIVE_INFINITY);
  }
  return pressedOut.filter(Boolean).length;
}

/** True where the memory, with `more` tests made since it was counted, holds as many results as it has slots. */
export const isFull = ({ capacity, held }: Download, more = 0): boolean =>
  capacity !== undefined && held !== undefined && held + more >= capacity;

/** Slots of a ring in which this download told a test. */
const toldSlots = ({ sightings }: Pick<Question, 'sightings'>): ReadonlySet<number> =>
  new Set(sightings.flatMap((told) => (told?.ringSlot === undefined ? [] : [told.ringSlot])));

const slotOf = (item: Standing | undefined): number | undefined =>
  item?.kind === 'place' ? item.tests.find((test) => test.ringSlot !== undefined)?.ringSlot : undefined;

/** How many of the oldest places can have been overwritten by now; undefined where the capacity is not known. */
export function overwritableIn(
  download: Download,
  { known, sightings }: Pick<Question, 'known' | 'sightings'>,
): number | undefined {
  const { capacity } = download;
  if (capacity === undefined) return undefined;
  if (isFull(download)) return Number.POSITIVE_INFINITY;
  const places = known.filter((item) => item.kind === 'place');
  const slots = toldSlots({ sightings });
  if (slots.size > 0 && download.complete) {
    // A ring overwrites slot by slot, also while others stand empty.
    const kept = places.findIndex((item) => !slots.has(slotOf(item) ?? 0));
    return kept < 0 ? places.length : kept;
  }
  const told = download.held ?? (download.complete ? download.image.length : Number.POSITIVE_INFINITY);
  return mostOverwritten(known, told, capacity);
}

/** Tells, for each known place that is missing, how it went. */
export function departuresOf(
  download: Download,
  question: Question,
  steps: readonly Step[],
): ReadonlyMap<number, Departure> {
  const out = new Map<number, Departure>();
  const slots = toldSlots(question);
  const isRewritten = (k: number): boolean => {
    const slot = slotOf(question.known[k]);
    if (slot === undefined) return false;
    return slots.has(slot) || question.known.slice(k + 1).some((later) => slotOf(later) === slot);
  };
  const oldest: number[] = [];
  // Behind a test that is older and still there nothing was overwritten.
  let olderIsThere = false;
  for (const step of steps) {
    // A ring has one test in a slot: if a later one was told there, this one is gone although a hole covers its place.
    if (step.kind === 'untold' && isRewritten(step.known)) out.set(step.known, 'overwritten');
    if (step.kind !== 'missing') olderIsThere ||= step.kind !== 'close';
    else if (olderIsThere) out.set(step.known, 'deleted');
    else oldest.push(step.known);
  }
  const how = departureOfOldest(download, question.known, steps, oldest.length);
  for (const k of oldest) {
    if (slotOf(question.known[k]) === undefined) out.set(k, how);
    else if (isRewritten(k)) out.set(k, 'overwritten');
    // An empty slot proves a deletion. Told by another protocol, or in part, a ring does not show that it is empty.
    else if (download.complete && download.order === 'ring' && download.protocol === 'line') out.set(k, 'deleted');
    else out.set(k, how === 'deleted' ? 'vanished' : how);
  }
  return out;
}

/**
 * The oldest tests are gone: counted against how many tests there have been in all. Tests that came and went unread
 * are not reckoned with: nothing speaks for them.
 */
function departureOfOldest(
  download: Download,
  known: readonly Standing[],
  steps: readonly Step[],
  gone: number,
): Departure {
  if (download.capacity === undefined) return 'vanished';
  const added = download.complete ? steps.filter((s) => s.kind === 'new').length : Number.POSITIVE_INFINITY;
  const overwritten = mostOverwritten(known, added, download.capacity);
  if (overwritten === 0) return 'deleted';
  return isFull(download) && gone <= overwritten ? 'overwritten' : 'vanished';
}
