/**
 * The memories of one name: turning from one to another, setting aside what vanished as a whole, and marking every test
 * once it is known that two meters say the same name. Pure.
 */
import type { Download } from '../core/download.ts';
import type { Instant } from '../core/instant.ts';
import { type DownloadId, downloadOf, type ReadingId } from '../core/reading.ts';
import type { SequenceWriter } from './apply.ts';
import type { KnownTest, MemoryState, OtherMemory, SequenceItem, Settled } from './state.ts';
import type { Explanation, Question, Step } from './steps.ts';
import { vanishedItems } from './unite.ts';
import { nextMemory, type Told } from './which-memory.ts';

/** Given to readings of a name that two meters share: which of them made the test is not sure, so a person sees it. */
export const IDENTITY_SHARED = 'identity-shared';

/** How many other memories are remembered. A tray of meters that were never given a number may hold about as many. */
const MOST_OTHERS = 8;
/** So long after two memories took turns, tests that only one of them tells are held no more. */
const HELD_FOR = 183 * 86_400_000;

/** A download with the state that it is settled into. */
export interface Turn {
  /** The state with the told memory in front. */
  readonly before: MemoryState;
  readonly question: Question;
  readonly explanation: Explanation;
  /** See `Settled`. */
  readonly foundShared: boolean;
}

/** True where new tests of a name are held because two memories lately took turns under it. */
export const isHeld = ({ sharedAt }: MemoryState, at: Instant): boolean =>
  sharedAt !== undefined && at - sharedAt <= HELD_FOR;

/** Brings the state to the memory that a download tells. */
export function turnTo(state: MemoryState, told: Told, download: Download): Turn {
  const { question, explanation } = told;
  const isPresent = told.memory.memory === (state.memory ?? 0);
  if (!isPresent) {
    const before = putInFront(told.state, { memory: told.memory.memory, ...facts(told.memory) });
    const foundShared = !isHeld(state, download.at);
    return { before: { ...before, sharedAt: download.at }, question, explanation, foundShared };
  }
  if (state.sharedAt === undefined || !isUnknown(told, download)) {
    return { before: state, question, explanation, foundShared: false };
  }
  // Nothing in it is known: one of the meters was emptied, or there is one more. Nobody can tell, so nothing is gone.
  const steps = explanation.steps.flatMap((step): Step[] =>
    step.kind === 'new' ? [step] : step.kind === 'hole' ? [{ ...step, open: true }] : [],
  );
  return {
    before: putInFront(state, { memory: nextMemory(state) }),
    question: { ...question, known: [] },
    explanation: { ...explanation, steps },
    foundShared: false,
  };
}

const facts = ({ highestRun, last }: Pick<OtherMemory, 'highestRun' | 'last'>) => ({
  ...(highestRun === undefined ? {} : { highestRun }),
  ...(last === undefined ? {} : { last }),
});

/** A download that tells something of a memory that held something, and nothing that it held. */
function isUnknown({ question, explanation }: Told, { complete }: Download): boolean {
  const isMet = explanation.steps.some((step) => step.kind === 'match' || step.kind === 'conflict');
  const tells = complete || explanation.steps.some((step) => step.kind === 'new');
  return !isMet && tells && question.known.some((item) => item.kind === 'place');
}

type Front = MemoryState & Required<Pick<MemoryState, 'memory' | 'highestMemory' | 'others'>>;

/** Makes a memory the one told last, and the one told before it one of the others. */
function putInFront(state: MemoryState, { memory, ...told }: OtherMemory): Front {
  const { highestRun: _, last: __, others = [], highestMemory = 0, ...rest } = state;
  const present: OtherMemory = { memory: state.memory ?? 0, ...facts(state) };
  return {
    ...rest,
    ...told,
    memory,
    highestMemory: Math.max(highestMemory, memory),
    others: [...others.filter((other) => other.memory !== memory), present].slice(-MOST_OTHERS),
  };
}

/** What all memories but the told one are numbered. */
export const numbersOf = ({ others = [] }: Pick<MemoryState, 'others'>): ReadonlySet<number> =>
  new Set(others.map((other) => other.memory));

/**
 * Remembers what the memory held, if all of it has vanished. What is told now goes by another number from here on: if
 * the old image is ever told again, two meters share the name. `after` is the state with the download in it.
 */
export function setAside(before: MemoryState, after: MemoryState, vanished: ReadonlySet<ReadingId>): MemoryState {
  const items = after.sharedAt === undefined ? vanishedItems(before, vanished, after.retired) : undefined;
  if (!items) return after;
  const newest = items.findLast((item) => item.kind === 'test')?.record.runNumber;
  const held = newest === undefined ? before : { ...before, highestRun: newest };
  const { memory, highestMemory, others } = putInFront(held, { memory: nextMemory(before) });
  const image = { memory: before.memory ?? 0, from: before.retired, items };
  const remembered = numbersOf({ others });
  const images = [...(before.images ?? []), image].filter((one) => remembered.has(one.memory));
  return { ...after, memory, highestMemory, others, images };
}

/** Marks every test that is not yet marked. Gives the sequence and the tests that changed. */
export function markShared(sequence: readonly SequenceItem[]): { sequence: SequenceItem[]; marked: KnownTest[] } {
  const marked: KnownTest[] = [];
  const out = sequence.map((item): SequenceItem => {
    if (item.kind !== 'test' || item.record.flags.includes(IDENTITY_SHARED)) return item;
    const test = { ...item, record: { ...item.record, flags: [...item.record.flags, IDENTITY_SHARED] } };
    marked.push(test);
    return test;
  });
  return { sequence: out, marked };
}

/**
 * Earlier downloads that told the memory which this one tells, though it was taken for another: those that broke off,
 * and told tests that only this download shows to be its own.
 */
export function relabelled(
  id: DownloadId,
  writer: SequenceWriter,
  isOther: boolean,
  memory: number,
): Settled['relabelled'] {
  const known = writer.sightings.flatMap((sighting) => (sighting.isNew ? [] : [sighting.reading]));
  const moved = isOther ? known : writer.borrowed.map((test) => test.id);
  const downloads = new Set(moved.map(downloadOf));
  downloads.delete(id);
  return [...downloads].map((download) => ({ download, memory }));
}
