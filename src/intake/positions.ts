/** Where the tests of a meter stand in its lifetime order. Pure. */
import type { ReadingId } from '../core/reading.ts';
import type { MemoryState } from '../memory/state.ts';
import { countOf } from '../memory/unite.ts';

/** The position of every test in a sequence, before which `retired` tests stand. */
export function positionsIn({ retired, sequence }: Pick<MemoryState, 'retired' | 'sequence'>): Map<ReadingId, number> {
  const positions = new Map<ReadingId, number>();
  let at = retired;
  for (const item of sequence) {
    if (item.kind === 'test') positions.set(item.id, at);
    at += countOf(item);
  }
  return positions;
}
