/**
 * The known side of an alignment: the places that may still be in the memory, in order, and the gaps between them. A
 * place is one test, or the readings in conflict that claim one test's place. What is gone can never come back and
 * is left out.
 */
import { isOf, type KnownTest, type MemoryState, type SequenceGap } from './state.ts';

/** A test that another memory is thought to hold, but that may belong to the one that is asked for. */
export type MayBorrow = (test: KnownTest) => boolean;

/** A place in the memory; `tests` are its claimants, [from, to) their indices in the sequence. */
export interface Place {
  readonly kind: 'place';
  readonly tests: readonly KnownTest[];
  readonly from: number;
  readonly to: number;
}

/** A gap of the sequence, at index `from`. */
export interface OpenGap {
  readonly kind: 'gap';
  readonly gap: SequenceGap;
  readonly from: number;
  readonly to: number;
}

export type Standing = Place | OpenGap;

const rivals = (a: KnownTest, b: KnownTest): boolean => a.conflictWith === b.id || b.conflictWith === a.id;

const NOBODY: MayBorrow = () => false;

/**
 * What still stands of one memory. Readings in conflict lie next to each other and become one place. In front of what
 * is borrowed there may be more that was never told.
 */
export function standingOf(
  { sequence }: Pick<MemoryState, 'sequence'>,
  memory: number,
  mayBorrow = NOBODY,
): Standing[] {
  const out: Standing[] = [];
  // A memory overwrites its oldest test first: in no gap before one that was overwritten can anything be left.
  const overwritten = sequence.findLastIndex(
    (item) => item.kind === 'test' && item.gone === 'overwritten' && isOf(item, memory),
  );
  sequence.forEach((item, at) => {
    if (item.kind === 'past') return;
    const isOurs = isOf(item, memory);
    if (item.kind === 'gap') {
      if (isOurs && at > overwritten) out.push({ kind: 'gap', gap: item, from: at, to: at + 1 });
      return;
    }
    if (!isOurs) {
      if (!mayBorrow(item)) return;
      const before = out.at(-1);
      const goesOn = before?.kind === 'place' && before.to === at && before.tests[0]?.memory === item.memory;
      if (!goesOn && before?.kind !== 'gap') out.push({ kind: 'gap', gap: { kind: 'gap' }, from: at, to: at });
    } else if (item.gone) return;
    const last = out.at(-1);
    if (last?.kind === 'place' && last.to === at && last.tests.some((test) => rivals(test, item)))
      out[out.length - 1] = { kind: 'place', tests: [...last.tests, item], from: last.from, to: at + 1 };
    else out.push({ kind: 'place', tests: [item], from: at, to: at + 1 });
  });
  return out;
}
