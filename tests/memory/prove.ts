/**
 * Holds settling to the truth of imagined histories: every told test is one reading and no two are, in the order of
 * the tests, under ids that never change. Where settling says otherwise, its own story is checked against what a
 * memory can do: only if that story explains every image too were the images no proof.
 */

import { settle } from '../../src/memory/settle.ts';
import { EMPTY_MEMORY, type KnownTest, type MemoryState } from '../../src/memory/state.ts';
import { type History, historyOf } from './history.ts';
import { storyProblem, type ToldStory } from './story-check.ts';

export interface Verdict {
  readonly seed: number;
  /** Sightings that went into the reading of another test, or into a second reading of their own. */
  readonly merged: readonly string[];
  readonly split: readonly string[];
  readonly disordered: readonly string[];
  /** Tests said to be deleted that were overwritten. */
  readonly misjudged: readonly string[];
  /** Ids renamed, moved or miscounted, sightings missing: never excused. */
  readonly broken: readonly string[];
  /** Told tests without a reading of their own, and readings beyond one for each told test. */
  readonly lost: number;
  readonly doubled: number;
  /** Where something is not as in truth: why settling's own story is impossible; empty if it explains every image too. */
  readonly impossible?: string;
  /** True where settling said that it is not sure. */
  readonly flagged: boolean;
  readonly tests: number;
  readonly downloads: number;
  /** Damaged facts that slipped through, and conflicts found. A test whose two readings are in conflict is held, not split. */
  readonly damaged: number;
  readonly conflicts: number;
}

/** Settles a history and compares with its truth. */
export function prove(history: History): Verdict {
  let state: MemoryState = EMPTY_MEMORY;
  let retired: string[] = [];
  const story: ToldStory[] = [];
  const merged: string[] = [];
  const split: string[] = [];
  const disordered: string[] = [];
  const broken: string[] = [];
  const misjudged: string[] = [];
  const readings = new Map<string, KnownTest>();
  /** Reading of each test as told undamaged, and the other way round. */
  const readingOf = new Map<number, string>();
  const testOf = new Map<string, number>();
  let flagged = false;
  let damaged = 0;
  let conflicts = 0;

  for (const { id, download, told } of history.downloads) {
    const before = idsOf(state);
    const settled = settle(state, download, id);
    state = JSON.parse(JSON.stringify(settled.state));
    flagged ||= settled.doubtful;
    conflicts += settled.conflicts.length;
    for (const test of [...settled.added, ...settled.changed]) readings.set(test.id, test);
    const after = idsOf(state);
    const now = new Set(after);
    // What a memory that was told again holds is not retired any more.
    retired = [...retired, ...before].filter((reading) => !now.has(reading));
    const past = state.sequence.reduce((sum, item) => sum + (item.kind === 'past' ? item.count : 0), state.retired);
    if (retired.length !== past) broken.push(`${id}: ${past} retired, not ${retired.length}`);
    const kept = after.filter((reading) => before.includes(reading));
    if (kept.join() !== before.filter((reading) => now.has(reading)).join()) broken.push(`${id}: known tests moved`);
    if (settled.sightings.map((s) => s.place).join() !== told.map((s) => s.place).join())
      broken.push(`${id}: sightings are not what was told`);
    if (settled.known + settled.fresh !== told.length) broken.push(`${id}: known and new do not add up`);
    story.push({ id, download, readings: settled.sightings.map((s) => s.reading) });

    for (const [at, truth] of told.entries()) {
      const reading = settled.sightings[at]?.reading ?? '';
      if (truth.damaged) {
        damaged++;
        const other = testOf.get(reading);
        if (other !== undefined && other !== truth.test)
          merged.push(`${id}/${truth.place}: damaged ${truth.test} is ${other}`);
        continue;
      }
      const known = readingOf.get(truth.test);
      if (known === undefined) readingOf.set(truth.test, reading);
      else if (
        known !== reading &&
        readings.get(known)?.conflictWith !== reading &&
        readings.get(reading)?.conflictWith !== known
      )
        split.push(`${id}/${truth.place}: test ${truth.test} is ${reading} and ${known}`);
      const owner = testOf.get(reading);
      if (owner === undefined) testOf.set(reading, truth.test);
      else if (owner !== truth.test)
        merged.push(`${id}/${truth.place}: test ${truth.test} went into ${reading} of ${owner}`);
    }
  }
  const lifetime = [...retired, ...idsOf(state)];
  let newest = -1;
  for (const reading of lifetime) {
    const test = testOf.get(reading);
    if (test === undefined) continue;
    if (test < newest) disordered.push(`${reading} (test ${test}) stands behind test ${newest}`);
    newest = Math.max(newest, test);
  }
  for (const [reading, { gone }] of readings) {
    const test = testOf.get(reading);
    if (gone !== 'deleted' || test === undefined || history.deleted.has(test)) continue;
    // A ring that E1394 tells in order of age hides which slots are free.
    if (history.setup.order === 'ring' && history.setup.protocols !== 'line') continue;
    // Tests that came and went unread may have filled the memory: no count shows them.
    let unread = false;
    for (let later = test + 1; later < history.made; later++) unread ||= !readingOf.has(later);
    if (!unread) misjudged.push(`${reading}: not deleted`);
  }
  const isRight = [merged, split, disordered, misjudged, broken].every((list) => list.length === 0);
  return {
    seed: history.seed,
    merged,
    split,
    disordered,
    lost: Math.max(0, readingOf.size - testOf.size),
    doubled: split.length > 0 ? Math.max(0, testOf.size - readingOf.size) : 0,
    broken,
    misjudged,
    ...(isRight ? {} : { impossible: storyProblem(story, lifetime, readings) }),
    flagged,
    tests: history.made,
    downloads: history.downloads.length,
    damaged,
    conflicts,
  };
}

const idsOf = (state: MemoryState): string[] => state.sequence.flatMap((i) => (i.kind === 'test' ? [i.id] : []));

export interface Tally {
  readonly histories: number;
  readonly tests: number;
  readonly downloads: number;
  readonly damaged: number;
  readonly conflicts: number;
  /** Conflicts in histories without any damage. */
  readonly needlessConflicts: number;
  /** Histories in which settling said that it is not sure. */
  readonly flagged: number;
  /** Seeds in which another story than the truth explains every image; of those, where tests were lost or doubled unsaid. */
  readonly undetermined: readonly number[];
  readonly silentlyLost: readonly number[];
  readonly silentlyDoubled: readonly number[];
  /** Seeds in which settling was wrong and its story is impossible, but it said that it is not sure and kept all. */
  readonly admitted: readonly number[];
  /** Seeds in which nothing but a departure was told wrongly: deleted, where it was overwritten. */
  readonly misjudged: readonly number[];
  /** Seeds in which settling was wrong although the images prove it, and did not say so. */
  readonly failed: readonly number[];
}

/** Proves histories by consecutive seeds. */
export function proveMany(from: number, count: number): Tally {
  const lists = {
    undetermined: [] as number[],
    silentlyLost: [] as number[],
    silentlyDoubled: [] as number[],
    admitted: [] as number[],
    misjudged: [] as number[],
    failed: [] as number[],
  };
  const sums = { tests: 0, downloads: 0, damaged: 0, conflicts: 0, needlessConflicts: 0, flagged: 0 };
  for (let seed = from; seed < from + count; seed++) {
    const verdict = prove(historyOf(seed));
    sums.tests += verdict.tests;
    sums.downloads += verdict.downloads;
    sums.damaged += verdict.damaged;
    sums.conflicts += verdict.conflicts;
    if (verdict.damaged === 0) sums.needlessConflicts += verdict.conflicts;
    sums.flagged += Number(verdict.flagged);
    const { impossible, merged, split, disordered, broken, lost, doubled, flagged } = verdict;
    if (impossible === undefined) continue;
    const isMisplaced = merged.length + split.length + disordered.length > 0;
    if (impossible === '' && isMisplaced && broken.length === 0) {
      lists.undetermined.push(seed);
      if (lost > 0 && !flagged) lists.silentlyLost.push(seed);
      if (doubled > 0 && !flagged) lists.silentlyDoubled.push(seed);
    } else if (!isMisplaced && broken.length === 0) lists.misjudged.push(seed);
    else if (flagged && lost === 0 && broken.length === 0) lists.admitted.push(seed);
    else lists.failed.push(seed);
  }
  return { histories: count, ...sums, ...lists };
}
