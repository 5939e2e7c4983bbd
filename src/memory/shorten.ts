/**
 * Keeps the state of a meter small: what can no longer be in the memory is taken off the old end of the sequence.
 */
import type { KnownTest, MemoryState } from './state.ts';

/** Where the capacity is not known, as many tests are kept as no handheld meter holds. */
const MOST_HELD = 2000;
/** Deletions that no complete download has shown may let an old test outlive as many newer ones; twice is ample. */
const SPARE = 2;

export interface Shortened {
  readonly retired: number;
  readonly sequence: MemoryState['sequence'];
  /** Tests that are given up although no download proved that they are gone. */
  readonly outlived: readonly KnownTest[];
}

/** Gives up tests that far too many newer ones follow, then retires those at the old end that are gone. */
export function shorten(retired: number, sequence: MemoryState['sequence'], capacity: number | undefined): Shortened {
  const most = capacity === undefined ? MOST_HELD : capacity * SPARE;
  let alive = 0;
  let from = sequence.length;
  while (from > 0 && alive < most) {
    const item = sequence[from - 1];
    if (item?.kind === 'test' && !item.gone) alive++;
    from--;
  }
  const outlived: KnownTest[] = [];
  const kept: MemoryState['sequence'][number][] = [];
  let gone = 0;
  sequence.forEach((item, at) => {
    if (at < from) {
      if (item.kind === 'gap') return;
      if (!item.gone) outlived.push({ ...item, gone: 'vanished' });
      gone++;
    } else if (kept.length === 0 && item.kind === 'test' && item.gone) gone++;
    else kept.push(item);
  });
  return { retired: retired + gone, sequence: kept, outlived };
}
