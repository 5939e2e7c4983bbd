/**
 * Settling: which of the tests that a download told are known already, which are new and where in the lifetime
 * sequence of the meter they belong. A pure fold over the downloads of one meter in the order of their time; no clock,
 * no randomness. An image is a part of what is still in the memory, then what is new; the cheapest explanation of it
 * by what can happen to a memory counts (see costs.ts).
 */
import type { Download, ImageItem } from '../core/download.ts';
import type { DownloadId, TestRecord } from '../core/reading.ts';
import { align } from './align.ts';
import { SequenceWriter } from './apply.ts';
import { departuresOf, isFull, overwritableIn } from './departures.ts';
import { explainOrdinary } from './fast.ts';
import { clockAfter, clockEvidence } from './last-clock.ts';
import { followRuns, runsMissing } from './runs.ts';
import type { Sighting } from './same.ts';
import { shorten } from './shorten.ts';
import { standingOf } from './standing.ts';
import type { Departure, KnownTest, MemoryState, Settled } from './state.ts';
import type { Question } from './steps.ts';

/** Settles one download. Pure: the same state and download always give the same result. */
export function settle(state: MemoryState, download: Download, id: DownloadId): Settled {
  const question = askOf(state, download);
  const explanation = explainOrdinary(question) ?? align(question);
  const provesOrder = download.complete || !ORDER_IN_DOUBT.has(download.cut ?? '');
  const departures = provesOrder ? departuresOf(download, question, explanation.steps) : new Map<number, Departure>();
  const writer = new SequenceWriter(state.sequence, question, {
    download: id,
    complete: download.complete,
    provesOrder,
    departures,
  });
  for (const step of explanation.steps) writer.take(step);
  writer.end();
  const after = writer.sequence.findLast((item) => item.kind === 'test');
  for (const test of download.fresh) writer.append(sightingOf(test, download));

  const runs = followRuns(state.highestRun, writer.newest);
  const short = shorten(state.retired, writer.sequence, download.capacity);
  const outlived = new Map(short.outlived.map((test) => [test.id, test]));
  const changed = writer.changed.map((test) => outlived.get(test.id) ?? test);
  const changedIds = new Set(changed.map((test) => test.id));
  changed.push(...short.outlived.filter((test) => !changedIds.has(test.id)));
  const fresh = writer.sightings.filter((s) => s.isNew).length;
  const clock = clockAfter(download);
  const mayPrecede = untoldAtEnd(download, question.told);
  const runBefore = state.sequence.some((item) => item.kind === 'test') ? undefined : state.highestRun;
  return {
    state: {
      retired: short.retired,
      sequence: short.sequence,
      ...(runs.highestRun === undefined ? {} : { highestRun: runs.highestRun }),
      last: {
        download: id,
        at: download.at,
        complete: download.complete,
        full: isFull(download, download.fresh.length),
        ...(clock ? { clock } : {}),
      },
    },
    sightings: writer.sightings,
    added: writer.added,
    changed,
    vanished: changed.flatMap((test) => (test.gone ? [{ reading: test.id, how: test.gone }] : [])),
    conflicts: writer.conflicts,
    known: writer.sightings.length - fresh,
    fresh,
    possiblyLost: lostUnread(state, download, writer) || runsMissing(writer.sequence, writer.joints, runBefore),
    runRestarted: runs.restarted,
    doubtful: explanation.doubtful,
    ...(after?.kind === 'test' ? { after: after.id } : {}),
    ...(mayPrecede === undefined ? {} : { mayPrecede }),
  };
}

/** Cuts after which what was told need not be the memory without holes, or not of one meter. */
const ORDER_IN_DOUBT: ReadonlySet<string> = new Set(['count-differs', 'proof-differs', 'identity-doubtful']);

/** A download that broke off before it told anything says nothing of the memory: all of it is a hole. */
const imageOf = ({ complete, image }: Download): readonly ImageItem[] =>
  complete || image.length > 0 ? image : [{ kind: 'hole' }];

const sightingOf = (record: TestRecord, { order, protocol }: Download): Sighting =>
  order === 'ring' && protocol === 'line' && record.slot !== undefined ? { record, ringSlot: record.slot } : { record };

function askOf(state: MemoryState, download: Download): Question {
  const known = standingOf(state);
  const told = imageOf(download);
  const sightings = told.map((item) => (item.kind === 'test' ? sightingOf(item.test, download) : undefined));
  const overwritable = overwritableIn(download, { known, sightings });
  return {
    known,
    told,
    sightings,
    weak: download.protocol === 'astm',
    ...(overwritable === undefined ? {} : { overwritable }),
    ...(state.highestRun === undefined ? {} : { highestRun: state.highestRun }),
    clock: clockEvidence(download, state.last?.clock),
  };
}

/** How many untold tests may be newer than the newest told one; undefined if nobody knows. */
function untoldAtEnd(download: Download, told: readonly ImageItem[]): number | undefined {
  const last = told.at(-1);
  if (last?.kind !== 'hole') return 0;
  const tests = told.filter((item) => item.kind === 'test').length;
  return last.atMost ?? (download.held === undefined ? undefined : Math.max(0, download.held - tests));
}

/**
 * The memory was full and not even the oldest test in it is known from before, so tests may have been overwritten
 * unread. (Without cut downloads this is the same as that nothing in it is known: what is new comes last.)
 */
function lostUnread(state: MemoryState, download: Download, { sequence, added }: SequenceWriter): boolean {
  if (!isFull(download) && !mayBeFull(state, download)) return false;
  const isNew = new Set<string>(added.map((test) => test.id));
  const there = sequence.filter((item): item is KnownTest => item.kind === 'test' && !item.gone);
  if (!download.complete) return there.every((test) => isNew.has(test.id));
  const oldest = there[0];
  return oldest !== undefined && isNew.has(oldest.id);
}

/**
 * Where nobody tells the capacity: the memory holds at least as many tests as before, so it may have been full then
 * and now. Said only of a memory that was seen before; of a first download nothing can be told.
 */
function mayBeFull(state: MemoryState, { capacity, held, complete }: Download): boolean {
  if (capacity !== undefined || held === undefined || !complete) return false;
  const before = state.sequence.filter((item) => item.kind === 'test' && !item.gone).length;
  return before > 0 && held >= before;
}
