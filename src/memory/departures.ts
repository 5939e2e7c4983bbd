/**
 * How a test left the memory. A full memory overwrites its oldest test for each new one; a person can delete any.
 * Which of the two it was is said only where the counts prove it.
 */
import type { Download } from '../core/download.ts';
import type { Standing } from './standing.ts';
import type { Departure } from './state.ts';
import type { Question, Step } from './steps.ts';

const gapRoom = (known: readonly Standing[]): number =>
  known.reduce((sum, item) => sum + (item.kind === 'gap' ? (item.gap.atMost ?? Number.POSITIVE_INFINITY) : 0), 0);

/** True where the memory, with `more` tests made since it was counted, holds as many results as it has slots. */
export const isFull = ({ capacity, held }: Download, more = 0): boolean =>
  capacity !== undefined && held !== undefined && held + more >= capacity;

/** How many of the oldest places can have been overwritten by now; undefined where the capacity is not known. */
export function overwritableIn(download: Download, known: readonly Standing[]): number | undefined {
  const { capacity } = download;
  if (capacity === undefined) return undefined;
  if (isFull(download)) return Number.POSITIVE_INFINITY;
  const places = known.filter((item) => item.kind === 'place').length;
  const told = download.held ?? (download.complete ? download.image.length : Number.POSITIVE_INFINITY);
  return Math.max(0, places + gapRoom(known) + told - capacity);
}

/** Tells, for each known place that is missing, how it went. */
export function departuresOf(
  download: Download,
  { known, sightings }: Question,
  steps: readonly Step[],
): ReadonlyMap<number, Departure> {
  const rewritten = new Set(sightings.map((told) => told?.ringSlot));
  const out = new Map<number, Departure>();
  const oldest: number[] = [];
  // Behind a test that is older and still there nothing was overwritten.
  let olderIsThere = false;
  for (const step of steps) {
    if (step.kind === 'untold') {
      const item = known[step.known];
      const slot = item?.kind === 'place' ? item.tests[0]?.ringSlot : undefined;
      // A ring has one test in a slot: if another was told there, this one is gone although a hole covers its place.
      if (slot !== undefined && rewritten.has(slot)) out.set(step.known, isFull(download) ? 'overwritten' : 'vanished');
    }
    if (step.kind !== 'missing') olderIsThere ||= step.kind !== 'close';
    else if (olderIsThere) out.set(step.known, 'deleted');
    else oldest.push(step.known);
  }
  const how = departureOfOldest(download, known, steps, oldest.length);
  for (const k of oldest) out.set(k, how);
  return out;
}

/** The oldest tests are gone: counted against how many tests there can have been in all. */
function departureOfOldest(
  download: Download,
  known: readonly Standing[],
  steps: readonly Step[],
  gone: number,
): Departure {
  if (download.capacity === undefined) return 'vanished';
  const places = known.filter((item) => item.kind === 'place').length;
  const added = download.complete ? steps.filter((s) => s.kind === 'new').length : Number.POSITIVE_INFINITY;
  const overwritten = places + gapRoom(known) + added - download.capacity;
  if (overwritten <= 0) return 'deleted';
  return isFull(download) && gone <= overwritten ? 'overwritten' : 'vanished';
}
