/**
 * Settles all downloads of one meter again, in the order of their times, from nothing. Needed when a download comes
 * late: what was settled after it may look different now. Pure.
 *
 * Names. While folding, a reading is named after the download earliest in time that told it. But an id must not change
 * because an older capture came late, so afterwards every reading is named after that of its sightings that arrived
 * first here: lowest arrival of the capture, then ordinal of the meter in the capture, then place in the order of the
 * download's tests. A sighting belongs to one reading only, so no two readings get the same name; and as long as the
 * fold puts the same sightings together as before, every reading keeps its name.
 */
import type { Download } from '../core/download.ts';
import { Fault } from '../core/fault.ts';
import { type DownloadId, type ReadingId, readingId, type TestRecord } from '../core/reading.ts';
import { settle } from '../memory/settle.ts';
import { EMPTY_MEMORY, type KnownTest, type MemoryState, type SequenceItem } from '../memory/state.ts';
import type { DownloadMoment, SettlingFacts } from '../store/downloads.ts';
import type { NewIncident } from '../store/incidents.ts';
import type { SettledReading } from '../store/readings.ts';
import { positionsIn } from './positions.ts';
import { readingOf, testsByPlace } from './settled-reading.ts';
import { factsOf, memoryIncidents } from './settling-facts.ts';

/** One download of the meter, with where it stands in time and in the order of arrival. */
export interface ArrivedDownload {
  readonly id: DownloadId;
  readonly moment: DownloadMoment;
  /** Place of its capture in the order in which captures were taken in. */
  readonly arrival: number;
  readonly download: Download;
}

/** One telling of a reading. */
export interface Sighting {
  readonly download: DownloadId;
  readonly record: TestRecord;
}

/** A meter's whole history, settled. */
export interface Folded {
  readonly state: MemoryState;
  /** All readings, in the order of the tests. */
  readonly readings: readonly SettledReading[];
  readonly facts: ReadonlyMap<DownloadId, SettlingFacts>;
  readonly incidents: readonly NewIncident[];
  /** Every telling of every reading, in the order of the downloads' times. */
  readonly sightings: ReadonlyMap<ReadingId, readonly Sighting[]>;
}

/** Which of two downloads comes first in time: negative, zero or positive. */
export const byMoment = (a: DownloadMoment, b: DownloadMoment): number =>
  a.at - b.at || a.captureNo - b.captureNo || a.ordinal - b.ordinal;

/** What the fold knows of one reading. */
interface Draft {
  known: KnownTest;
  position: number;
  readonly earliest: DownloadId;
  /** The name that it will have, and the telling that gives it. */
  name: ReadingId;
  first: {
    readonly download: DownloadId;
    readonly record: TestRecord;
    readonly rank: readonly [number, number, number];
  };
  readonly sightings: Sighting[];
}

/** Settles the downloads of one meter, given in any order. */
export function foldMeter(meterNo: number, downloads: readonly ArrivedDownload[]): Folded {
  const drafts = new Map<ReadingId, Draft>();
  const facts = new Map<DownloadId, SettlingFacts>();
  const incidents: NewIncident[] = [];
  let state = EMPTY_MEMORY;
  for (const arrived of [...downloads].sort((a, b) => byMoment(a.moment, b.moment))) {
    const settled = settle(state, arrived.download, arrived.id);
    const added = new Map(settled.added.map((test) => [test.id, test]));
    const tests = testsByPlace(arrived.download);
    for (const [order, sighting] of settled.sightings.entries()) {
      const record = tests.get(sighting.place);
      if (!record) throw broken(`no test at ${sighting.place} of ${arrived.id}`);
      note(drafts, sighting.reading, added.get(sighting.reading), arrived, record, order);
    }
    for (const known of [...settled.added, ...settled.changed]) draftOf(drafts, known.id).known = known;
    for (const [id, position] of positionsIn(settled.written)) draftOf(drafts, id).position = position;
    facts.set(arrived.id, factsOf(settled));
    for (const { download, memory } of settled.relabelled) {
      const earlier = facts.get(download);
      if (earlier) facts.set(download, { ...earlier, memory });
    }
    incidents.push(...memoryIncidents(state, settled, arrived.download, arrived.id));
    state = settled.state;
  }
  return renamed(meterNo, state, drafts, facts, incidents);
}

const broken = (what: string): Fault => new Fault('INTERNAL', `Settling tells of ${what}`, 'Please report this.');

function draftOf(drafts: Map<ReadingId, Draft>, id: ReadingId): Draft {
  const draft = drafts.get(id);
  if (!draft) throw broken(`${id}, which was never told`);
  return draft;
}

/** Notes one telling of a reading, and whether it is the first that arrived. */
function note(
  drafts: Map<ReadingId, Draft>,
  id: ReadingId,
  added: KnownTest | undefined,
  { id: download, moment, arrival }: ArrivedDownload,
  record: TestRecord,
  order: number,
): void {
  const rank = [arrival, moment.ordinal, order] as const;
  const first = { download, record, rank };
  const name = readingId(download, record.place);
  const draft = drafts.get(id);
  if (!draft) {
    if (!added) throw broken(`${id}, which was never added`);
    drafts.set(id, { known: added, position: 0, earliest: download, name, first, sightings: [{ download, record }] });
    return;
  }
  draft.sightings.push({ download, record });
  const [a, b, c] = draft.first.rank;
  if ((rank[0] - a || rank[1] - b || rank[2] - c) < 0) {
    draft.first = first;
    draft.name = name;
  }
}

/** Puts the names that stay in place of those of the fold. */
function renamed(
  meterNo: number,
  state: MemoryState,
  drafts: ReadonlyMap<ReadingId, Draft>,
  facts: ReadonlyMap<DownloadId, SettlingFacts>,
  incidents: readonly NewIncident[],
): Folded {
  const nameOf = (id: ReadingId): ReadingId => drafts.get(id)?.name ?? id;
  const rename = (known: KnownTest): KnownTest => ({
    ...known,
    id: nameOf(known.id),
    ...(known.conflictWith === undefined ? {} : { conflictWith: nameOf(known.conflictWith) }),
  });
  const renameAll = (items: readonly SequenceItem[]): SequenceItem[] =>
    items.map((item) => (item.kind === 'test' ? rename(item) : item));
  const readings = [...drafts.values()]
    .sort((a, b) => a.position - b.position)
    .map(({ known, position, earliest, first }) =>
      readingOf(meterNo, rename(known), position, first.download, earliest, first.record),
    );
  return {
    state: {
      ...state,
      sequence: renameAll(state.sequence),
      ...(state.images ? { images: state.images.map((one) => ({ ...one, items: renameAll(one.items) })) } : {}),
    },
    readings,
    facts: new Map([...facts].map(([id, f]) => [id, f.after === undefined ? f : { ...f, after: nameOf(f.after) }])),
    incidents,
    sightings: new Map([...drafts.values()].map((draft) => [draft.name, draft.sightings])),
  };
}
