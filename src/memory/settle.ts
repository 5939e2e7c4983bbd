/**
 * Settling: which of the tests that a download told are known already, which are new and where in the lifetime
 * sequence of the meter they belong. A pure fold over the downloads of one meter in the order of their time; no clock,
 * no randomness. An image is a part of what is still in the memory, then what is new; the cheapest explanation of it
 * by what can happen to a memory counts (see costs.ts). Two meters may say one name: see which-memory.ts.
 */
import type { Download, ImageItem } from '../core/download.ts';
import type { DownloadId } from '../core/reading.ts';
import { SequenceWriter } from './apply.ts';
import { departuresOf, isFull } from './departures.ts';
import { clockAfter } from './last-clock.ts';
import { sightingOf } from './question.ts';
import { followRuns, runsMissing } from './runs.ts';
import { IDENTITY_SHARED, isHeld, markShared, numbersOf, relabelled, setAside, turnTo } from './sharing.ts';
import { shorten } from './shorten.ts';
import { type Departure, isOf, type KnownTest, type MemoryState, type Settled } from './state.ts';
import { whichMemory } from './which-memory.ts';

/** Settles one download. Pure: the same state and download always give the same result. */
export function settle(state: MemoryState, download: Download, id: DownloadId): Settled {
  const { before, question, explanation, foundShared } = turnTo(state, whichMemory(state, download), download);
  const { memory = 0, highestRun: _, last: __, ...names } = before;
  const provesOrder = download.complete || !ORDER_IN_DOUBT.has(download.cut ?? '');
  const departures = provesOrder ? departuresOf(download, question, explanation.steps) : new Map<number, Departure>();
  const writer = new SequenceWriter(before.sequence, question, {
    download: id,
    complete: download.complete,
    provesOrder,
    departures,
    ...(before.sharedAt === undefined ? {} : { memory }),
    flags: isHeld(before, download.at) ? [IDENTITY_SHARED] : [],
  });
  for (const step of explanation.steps) writer.take(step);
  writer.end();
  const after = writer.sequence.findLast((item) => item.kind === 'test' && isOf(item, memory));
  for (const test of download.fresh) writer.append(sightingOf(test, download));
  const told = foundShared ? markShared(writer.sequence) : { sequence: writer.sequence, marked: [] };

  const runs = followRuns(before.highestRun, writer.newest);
  const short = shorten(before.retired, told.sequence, download.capacity, { told: memory, others: numbersOf(before) });
  const changed = new Map([...writer.changed, ...told.marked, ...short.outlived].map((test) => [test.id, test]));
  const left = new Set([...writer.changed, ...short.outlived].flatMap((test) => (test.gone ? [test.id] : [])));
  const vanished = [...changed.values()].flatMap((test) =>
    test.gone && left.has(test.id) ? [{ reading: test.id, how: test.gone }] : [],
  );
  const fresh = writer.sightings.filter((s) => s.isNew).length;
  const clock = clockAfter(download);
  const mayPrecede = untoldAtEnd(download, question.told);
  const isAnyKnown = before.sequence.some((item) => item.kind === 'test' && isOf(item, memory));
  const runBefore = isAnyKnown ? undefined : before.highestRun;
  const plain: MemoryState = {
    ...names,
    retired: short.retired,
    sequence: short.sequence,
    ...(before.memory === undefined ? {} : { memory }),
    ...(runs.highestRun === undefined ? {} : { highestRun: runs.highestRun }),
    last: {
      download: id,
      at: download.at,
      complete: download.complete,
      full: isFull(download, download.fresh.length),
      ...(clock ? { clock } : {}),
    },
  };
  const next = setAside(before, plain, new Set(vanished.map((test) => test.reading)));
  const number = next.memory ?? 0;
  return {
    state: next,
    written: { retired: before.retired, sequence: told.sequence },
    memory: number,
    relabelled: relabelled(id, writer, next !== plain, number),
    foundShared,
    sightings: writer.sightings,
    added: writer.added,
    changed: [...changed.values()],
    vanished,
    conflicts: writer.conflicts,
    known: writer.sightings.length - fresh,
    fresh,
    possiblyLost:
      lostUnread(before, download, writer) || runsMissing(writer.sequence, writer.joints, runBefore, memory),
    runRestarted: runs.restarted,
    doubtful: explanation.doubtful,
    ...(after?.kind === 'test' ? { after: after.id } : {}),
    ...(mayPrecede === undefined ? {} : { mayPrecede }),
  };
}

/** Cuts after which what was told need not be the memory without holes, or not of one meter. */
const ORDER_IN_DOUBT: ReadonlySet<string> = new Set(['count-differs', 'proof-differs', 'identity-doubtful']);

/** How many untold tests may be newer than the newest told one; undefined if nobody knows. */
function untoldAtEnd(download: Download, told: readonly ImageItem[]): number | undefined {
  const last = told.at(-1);
  if (last?.kind !== 'hole') return 0;
  const tests = told.filter((item) => item.kind === 'test').length;
  return last.atMost ?? (download.held === undefined ? undefined : Math.max(0, download.held - tests));
}

/** The tests of a memory that may still be in it. */
const standingTests = (sequence: MemoryState['sequence'], memory = 0): KnownTest[] =>
  sequence.filter((item): item is KnownTest => item.kind === 'test' && !item.gone && isOf(item, memory));

/**
 * The memory was full and not even the oldest test in it is known from before, so tests may have been overwritten
 * unread. (Without cut downloads this is the same as that nothing in it is known: what is new comes last.) Likewise
 * where the oldest test is known, but a gap in front of it closed: what a cut download had not told is overwritten.
 */
function lostUnread(state: MemoryState, download: Download, { sequence, added, firstClosed }: SequenceWriter): boolean {
  if (!isFull(download) && !mayBeFull(state, download)) return false;
  const isNew = new Set<string>(added.map((test) => test.id));
  const there = standingTests(sequence, state.memory);
  if (!download.complete) return there.every((test) => isNew.has(test.id));
  const oldest = there[0];
  if (oldest === undefined) return false;
  return isNew.has(oldest.id) || (firstClosed !== undefined && firstClosed <= sequence.indexOf(oldest));
}

/**
 * Where nobody tells the capacity: the memory holds at least as many tests as before, so it may have been full then
 * and now. Said only of a memory that was seen before; of a first download nothing can be told. After one that broke off
 * it is not known how many it held: what was told then need not all have been there at once.
 */
function mayBeFull(state: MemoryState, { capacity, held, complete }: Download): boolean {
  if (capacity !== undefined || held === undefined || !complete) return false;
  const before = standingTests(state.sequence, state.memory).length;
  return before > 0 && (held >= before || state.last?.complete === false);
}
