/**
 * Puts the memories of one name into one sequence, once it is known that there are several. Until then the sequence is
 * that of the memory told last, and what vanished as a whole lies aside as an image.
 */
import type { ReadingId } from '../core/reading.ts';
import type { KnownTest, MemoryState, SequenceGap, SequenceItem } from './state.ts';

/** How many tests an item stands for. */
export const countOf = (item: SequenceItem): number =>
  item.kind === 'past' ? item.count : Number(item.kind === 'test');

/** The state with every test and gap under the number of its memory, and with no images. Positions stay as they are. */
export function unite(state: MemoryState): MemoryState {
  const { images, ...rest } = state;
  if (state.sharedAt !== undefined) return state;
  const tests = new Map<number, KnownTest>();
  const gaps = new Map<number, SequenceGap[]>();
  const lay = (from: number, items: readonly SequenceItem[], memory: number): number => {
    let at = from;
    for (const item of items) {
      if (item.kind === 'test') tests.set(at, { ...item, memory });
      else if (item.kind === 'gap') gaps.set(at, [...(gaps.get(at) ?? []), { ...item, memory }]);
      at += countOf(item);
    }
    return at;
  };
  for (const image of images ?? []) lay(image.from, image.items, image.memory);
  const end = lay(state.retired, state.sequence, state.memory ?? 0);
  const retired = Math.min(state.retired, ...(images ?? []).map((image) => image.from));
  const sequence: SequenceItem[] = [];
  for (let at = retired; at <= end; at++) {
    sequence.push(...(gaps.get(at) ?? []));
    const test = tests.get(at);
    if (test) sequence.push(test);
    else if (at < end) pushPast(sequence, 1);
  }
  return { ...rest, retired, sequence };
}

/** Adds tests that are no longer needed; those next to each other are one item. */
export function pushPast(sequence: SequenceItem[], count: number): void {
  const last = sequence.at(-1);
  if (last?.kind === 'past') sequence[sequence.length - 1] = { kind: 'past', count: last.count + count };
  else sequence.push({ kind: 'past', count });
}

/**
 * What the memory held before all that was settled in it vanished by one download; undefined where some of it is still
 * there. `retiredNow`: the tests that stand before the sequence now. What is not yet among them stands in the sequence.
 */
export function vanishedItems(
  before: MemoryState,
  vanished: ReadonlySet<ReadingId>,
  retiredNow: number,
): readonly SequenceItem[] | undefined {
  const isThere = (item: SequenceItem): boolean =>
    item.kind === 'test' && item.status === 'settled' && !item.gone && !vanished.has(item.id);
  if (before.sequence.some(isThere)) return undefined;
  const items: SequenceItem[] = [];
  let at = before.retired;
  for (const item of before.sequence) {
    at += countOf(item);
    if (at > retiredNow) break;
    if (item.kind === 'test' && !vanished.has(item.id)) pushPast(items, 1);
    else items.push(item);
  }
  // A gap at the new end was left by what came after, which is perhaps another memory's.
  while (items.length > 0 && items.at(-1)?.kind !== 'test') items.pop();
  return items.length > 0 ? items : undefined;
}
