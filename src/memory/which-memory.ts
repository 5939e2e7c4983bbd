/**
 * Which of the memories of one name a download tells. A meter has one memory; but two meters may say the same model and
 * serial number, and are then docked in turn. What vanished as a whole is therefore remembered for a while: where a
 * download tells tests as new that stood in it, the memories are weighed against each other by what it costs to
 * explain the download by each. That a memory is told again after another one is what proves that there are two.
 */
import type { Download } from '../core/download.ts';
import { BORROWED, MEMORY_IN_TURN, OTHER_MEMORY, REPEAT, REPEAT_AFTER_LOSS, REPEATED_STAMP } from './costs.ts';
import { type AskedMemory, askOf, explain } from './question.ts';
import { type Sighting, sameTest } from './same.ts';
import { isOf, type KnownTest, type MemoryState, type SequenceItem } from './state.ts';
import type { Explanation, Question } from './steps.ts';
import { unite } from './unite.ts';

/** A download explained by one memory. */
export interface Told {
  /** The state that the explanation speaks of: united where the memory is not the one told last. */
  readonly state: MemoryState;
  readonly memory: AskedMemory;
  readonly question: Question;
  readonly explanation: Explanation;
}

/** The number for a memory that was never told before. */
export const nextMemory = ({ highestMemory = 0 }: MemoryState): number => highestMemory + 1;

const MINUTE = 60_000;

/** The memory that explains a download best; the one told last unless another is better. */
export function whichMemory(state: MemoryState, download: Download): Told {
  const present: AskedMemory = { ...state, memory: state.memory ?? 0 };
  const question = askOf(state, present, download);
  const told: Told = { state, memory: present, question, explanation: explain(question) };
  const strangers = strangersAmong(told);
  if (strangers.length === 0) return told;

  const united = unite(state);
  const sightings = question.sightings.filter((sighting) => sighting !== undefined);
  const mayBorrow = (test: KnownTest): boolean =>
    (test.status === 'provisional' || test.gone !== undefined) &&
    isTelling(test) &&
    sightings.some((sighting) => sameTest(test, sighting));
  const numbers = new Set(strangers.map((test) => test.memory ?? present.memory));
  const others = (state.others ?? []).filter((other) => numbers.has(other.memory));
  const fresh = { memory: nextMemory(state) };
  let best = told;
  let least = told.explanation.cost + strangerCost(told, united);
  const isShared = state.sharedAt !== undefined;
  for (const memory of [...(isShared ? [present] : []), ...others, fresh]) {
    const asked = askOf(united, { ...memory, mayBorrow }, download);
    if (asked.known.length === 0) continue;
    const other: Told = { state: united, memory, question: asked, explanation: explain(asked) };
    const turn = memory === present ? 0 : isShared && memory !== fresh ? MEMORY_IN_TURN : OTHER_MEMORY;
    const cost = other.explanation.cost + strangerCost(other, united) + turn + (borrows(other) ? BORROWED : 0);
    if (cost >= least) continue;
    best = other;
    least = cost;
  }
  return markStrangers(best, united);
}

/** True where a told test is one that was laid to another memory. */
const borrows = ({ question, explanation, memory }: Told): boolean =>
  explanation.steps.some((step) => {
    const item = step.kind === 'match' ? question.known[step.known] : undefined;
    return item?.kind === 'place' && item.tests.some((test) => test.memory !== memory.memory);
  });

/** Tests that stood in another memory, or were told once and not again, and that this download tells as new. */
function strangersAmong({ state, memory, question, explanation }: Told): KnownTest[] {
  const fresh = newOnes(question, explanation);
  const images = (state.images ?? []).flatMap((image) =>
    image.items.map((item) => ({ ...item, memory: image.memory })),
  );
  return elsewhereIn([...state.sequence, ...images], memory.memory).filter((test) =>
    fresh.some((told) => sameTest(test, told)),
  );
}

/** Tests among these that say something and are not in a memory. */
const elsewhereIn = (items: readonly SequenceItem[], memory: number): KnownTest[] =>
  items.filter((item): item is KnownTest => item.kind === 'test' && isElsewhere(item, memory) && isTelling(item));

/** Without a stamp and a number a test proves nothing: its like is made again. */
const isTelling = ({ record }: Sighting): boolean => record.meterTime !== undefined || record.runNumber !== undefined;

/** What is gone from a memory cannot come back to it: told again, it stood in another one. */
const isElsewhere = (test: KnownTest, memory: number): boolean => !isOf(test, memory) || test.gone !== undefined;

const newOnes = ({ sightings }: Question, { steps }: Explanation): Sighting[] =>
  steps.flatMap((step) => {
    const told = step.kind === 'new' ? sightings[step.told] : undefined;
    return told ? [told] : [];
  });

/** True where another memory under this name holds the very same test. */
function stoodElsewhere(told: Told, united: MemoryState): (sighting: Sighting) => boolean {
  const elsewhere = elsewhereIn(united.sequence, told.memory.memory);
  return (sighting) => elsewhere.some((test) => sameTest(test, sighting));
}

/** What it costs that tests are new although another memory holds the very same. */
const strangerCost = (told: Told, united: MemoryState): number =>
  newOnes(told.question, told.explanation)
    .filter(stoodElsewhere(told, united))
    .reduce((sum, sighting) => sum + priceOf(sighting, told.question), 0);

/** The best explanation still takes tests for new that another memory holds: they are kept, and a person sees them. */
function markStrangers(told: Told, united: MemoryState): Told {
  const isStranger = stoodElsewhere(told, united);
  const steps = told.explanation.steps.map((step) => {
    if (step.kind !== 'new') return step;
    const sighting = told.question.sightings[step.told];
    return sighting && isStranger(sighting) ? { ...step, repeat: true } : step;
  });
  const doubtful = steps.some((step) => step.kind === 'new' && step.repeat);
  return { ...told, explanation: { ...told.explanation, steps, doubtful } };
}

function priceOf(told: Sighting, { clock }: Question): number {
  if (clock.mayRepeat(told)) return REPEAT_AFTER_LOSS;
  // A stamp that names no minute comes twice wherever two tests were made on one day.
  const { meterTime } = told.record;
  return meterTime && meterTime.resolutionMs <= MINUTE ? REPEAT : REPEATED_STAMP;
}
