/** What must hold of any receiver in the end, whatever happened on the way. */
import type { ReadingId } from '../../src/core/reading.ts';
import type { Store } from '../../src/store/store.ts';
import type { Received } from './rigs.ts';

/**
 * What is wrong with what a receiver has, in sentences; empty where it has every reading as it stands, each version once,
 * in the order of the log.
 */
export function problemsOf(received: readonly Received[], store: Store, ids: readonly ReadingId[]): string[] {
  const problems: string[] = [];
  const seen = new Set<string>();
  let before = 0;
  for (const { reading, version } of received) {
    const key = `${reading} version ${version}`;
    if (seen.has(key)) problems.push(`${key} is there twice`);
    seen.add(key);
    const seq = store.outgoing.row({ seq: 0, reading, version })?.seq;
    if (seq === undefined) problems.push(`${key} never was`);
    else if (seq < before) problems.push(`${key} came behind a later change`);
    before = Math.max(before, seq ?? 0);
  }
  const last = new Map(received.map((r) => [r.reading, r]));
  const judged = new Map(store.judged.of(ids).map((j) => [j.reading, j]));
  for (const id of ids) {
    const { status, version } = judged.get(id) ?? {};
    const has = last.get(id);
    if (status === 'settled') {
      if (has?.version !== version || has?.isWithdrawn)
        problems.push(`${id} stands at ${version}, the receiver has ${has?.version}`);
    } else if (has && !has.isWithdrawn) problems.push(`${id} is ${status}, the receiver takes it for good`);
  }
  return problems;
}
