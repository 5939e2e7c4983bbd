/** What running numbers tell of the lifetime sequence: where they started again, and where some are missing. */
import { isOf, type KnownTest, type MemoryState } from './state.ts';

/** Follows the running numbers through the newest tests, in order. The numbers started again where they go back. */
export function followRuns(
  highestBefore: number | undefined,
  newest: readonly KnownTest[],
): { readonly highestRun?: number; readonly restarted: boolean } {
  let highestRun = highestBefore;
  let restarted = false;
  for (const { record } of newest) {
    if (record.runNumber === undefined) continue;
    restarted ||= highestRun !== undefined && record.runNumber <= highestRun;
    highestRun = record.runNumber;
  }
  return { ...(highestRun === undefined ? {} : { highestRun }), restarted };
}

/**
 * True where numbers are missing between two neighbours that became neighbours by this download (`joints`: the indices
 * of the later ones). `runBefore` is the number before the first item, where known. Gaps may still fill: they count not;
 * nor do the tests of other memories than the one asked for.
 */
export function runsMissing(
  sequence: MemoryState['sequence'],
  joints: ReadonlySet<number>,
  runBefore: number | undefined,
  memory: number,
): boolean {
  let previous = runBefore;
  let rivalOf: string | undefined;
  for (const [at, item] of sequence.entries()) {
    if (item.kind === 'past' || !isOf(item, memory)) continue;
    if (item.kind === 'gap') {
      previous = undefined;
      continue;
    }
    const run = item.record.runNumber;
    // The second reading of a conflict is no step forward: its number may be the damaged fact.
    if (run === undefined || (rivalOf !== undefined && item.conflictWith === rivalOf)) continue;
    if (joints.has(at) && previous !== undefined && run > previous + 1) return true;
    previous = run;
    rivalOf = item.id;
  }
  return false;
}
