/**
 * Keeps the state of a meter small: what can no longer be in the memory is taken off the old end of the sequence. Where
 * other memories share the name, what they hold stays.
 */
import { isOf, type KnownTest, type MemoryState, type SequenceItem } from './state.ts';
import { pushPast } from './unite.ts';

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

/** The memory that was just told, and those that are remembered beside it. */
export interface Memories {
  readonly told: number;
  readonly others: ReadonlySet<number>;
}

/**
 * Gives up tests of the told memory that far too many newer ones follow, then retires those at its old end that are
 * gone, and all of memories that are no longer remembered.
 */
export function shorten(
  retired: number,
  sequence: MemoryState['sequence'],
  capacity: number | undefined,
  { told, others }: Memories,
): Shortened {
  const most = capacity === undefined ? MOST_HELD : capacity * SPARE;
  let alive = 0;
  let from = sequence.length;
  for (const item of sequence.toReversed()) {
    if (alive >= most) break;
    if (item.kind === 'test' && !item.gone && isOf(item, told)) alive++;
    from--;
  }
  const outlived: KnownTest[] = [];
  const kept: SequenceItem[] = [];
  let isOldEnd = true;
  sequence.forEach((item, at) => {
    if (item.kind === 'past') {
      pushPast(kept, item.count);
      return;
    }
    const isTold = isOf(item, told);
    const isGivenUp = isTold ? at < from : !others.has(item.memory ?? told);
    if (item.kind === 'test' && isGivenUp && !item.gone) outlived.push({ ...item, gone: 'vanished' });
    if (isGivenUp || (isTold && isOldEnd && item.kind === 'test' && item.gone)) {
      if (item.kind === 'test') pushPast(kept, 1);
      return;
    }
    if (isTold) isOldEnd = false;
    kept.push(item);
  });
  const [first] = kept;
  if (first?.kind !== 'past') return { retired, sequence: kept, outlived };
  return { retired: retired + first.count, sequence: kept.slice(1), outlived };
}
