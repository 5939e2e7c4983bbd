/** One answer to READ as a capture tells it, and what it means for the memory table. */
import type { TestRecord } from '../../core/reading.ts';
import {
  addEntries,
  applyNew,
  type Entry,
  emptyTable,
  factsAfterNew,
  type MemoryFacts,
  type MemoryTable,
  type Range,
  settleClaims,
} from './memory-table.ts';
import { type Claim, isProven } from './proof.ts';
import { sameTest } from './same-test.ts';

/**
 * A REC line. `slot` is undefined where it tells none, or none that the meter has; `test` where it cannot be used. Both
 * are always there: an object that is spread together from what is known costs more than reading its line.
 */
export interface ToldRec {
  readonly slot: number | undefined;
  readonly body: string;
  readonly test: TestRecord | undefined;
  readonly isDoubtful: boolean;
}

/** A test sent unasked. */
export interface ToldNew {
  readonly test: TestRecord;
  readonly body: string;
}

/** An answer while it arrives. */
export interface Answer {
  /** What was asked for; absent where the capture does not hold the question. */
  readonly range: Range | 'whole' | undefined;
  /** What the meter had said of its memory when it was asked, with the tests that were made since. */
  readonly facts: MemoryFacts;
  recs: ToldRec[];
  /** Tests that were sent in the middle, each with the number of REC lines before it. */
  readonly news: (ToldNew & { readonly after: number })[];
  /** True once what arrives may come from another meter: after a silence, or where the question is a repeat. */
  isInterrupted: boolean;
  sawDamage: boolean;
  /** True once the host has said BYE into it; the lines on their way still come. */
  isAborted: boolean;
}

/** Why an answer does not prove what was asked for. */
export type AnswerFlaw = 'aborted' | 'cut-off' | 'damaged' | 'count-differs' | 'proof-differs';

/**
 * Puts a finished answer into the table. `earlier` are the tests sent since the answer before it, `claim` is absent
 * where no END came. Returns the tests that are still to be told as fresh ones, and what is wrong with the answer.
 */
export function takeAnswer(
  table: MemoryTable,
  answer: Answer,
  earlier: readonly ToldNew[],
  claim: Claim | undefined,
): { fresh: ToldNew[]; flaw?: AnswerFlaw } {
  const { recs } = answer;
  const isDirect =
    claim !== undefined &&
    isProven(
      recs.map((rec) => rec.body),
      claim,
    );
  if (recs.length === 0 && !isDirect) return { fresh: [...earlier, ...answer.news], flaw: flawOf(answer, claim) };

  for (const made of earlier) applyNew(table, made.test, made.body);
  table.facts = answer.facts;
  const seam = seamOf(table, answer);
  const entries = new Map<number, Entry>();
  recs.forEach((rec, i) => {
    if (rec.slot === undefined) return;
    const slot = i < seam.recs ? rec.slot + seam.news.length : rec.slot;
    entries.set(slot, {
      body: rec.body,
      test: rec.test,
      isProven: isDirect,
      isDoubtful: rec.isDoubtful && !isDirect,
    });
  });
  const range = rangeOf(table, answer, seam.news.length, claim);
  if (isDirect && range === 'whole') replaceTable(table);
  for (const made of seam.news) applyNew(table, made.test, made.body);
  addEntries(table, entries);
  const known = range === 'whole' ? { from: 1, to: table.facts.capacity } : range;
  const hasSlotless = recs.some((rec) => rec.slot === undefined);
  // A line without a slot stands somewhere: no untold slot of this answer is surely empty.
  if (isDirect && known && !hasSlotless) table.provenRanges.push(known);
  if (claim && !isDirect && known && seam.news.length === 0) table.claims.push({ ...known, ...claim });
  settleClaims(table);
  const rest = absorb(table, answer.news.slice(seam.news.length));
  return isDirect ? { fresh: rest } : { fresh: rest, flaw: flawOf(answer, claim) };
}

function flawOf(answer: Answer, claim: Claim | undefined): AnswerFlaw {
  if (answer.isAborted) return 'aborted';
  if (!claim) return answer.sawDamage ? 'damaged' : 'cut-off';
  if (claim.count === answer.recs.length) return 'proof-differs';
  return answer.sawDamage ? 'damaged' : 'count-differs';
}

/** A proven answer of the whole memory stands for all that was told before, but for what has been overwritten. */
function replaceTable(table: MemoryTable): void {
  const { facts, displaced } = table;
  Object.assign(table, emptyTable(facts), { displaced });
}

/** The stretch that an answer covers; where the question is not known, what its lines tell. */
function rangeOf(
  table: MemoryTable,
  answer: Answer,
  moved: number,
  claim: Claim | undefined,
): Range | 'whole' | undefined {
  if (answer.range !== undefined && answer.range !== 'whole') return answer.range;
  const hasSlot = (rec: ToldRec): boolean => rec.slot !== undefined;
  const first = answer.recs.find(hasSlot)?.slot ?? 1;
  const last = answer.recs.findLast(hasSlot)?.slot ?? 0;
  // Slots moved while they were told: what lies behind the last one told may have moved past the end of the answer.
  if (moved > 0) return { from: 1, to: last };
  if (answer.range === 'whole') return 'whole';
  if (claim && claim.count >= table.facts.held) return 'whole';
  return first <= last ? { from: first, to: last } : undefined;
}

/**
 * A meter that tells its live memory, newest first, goes on one slot further down when a test is made: the line after
 * that moment repeats the one before. Then the lines before it have moved, and the new test is part of the memory.
 */
function seamOf(table: MemoryTable, answer: Answer): { recs: number; news: ToldNew[] } {
  const none = { recs: 0, news: [] };
  const [made, ...more] = answer.news;
  if (table.facts.order !== 'newest' || !made || more.length > 0) return none;
  const before = answer.recs[made.after - 1]?.test;
  const after = answer.recs[made.after]?.test;
  return before && after && sameTest(before, after) ? { recs: made.after, news: [made] } : none;
}

/** Leaves out tests that the answer, told after they were made, already holds. */
function absorb(table: MemoryTable, news: readonly ToldNew[]): ToldNew[] {
  if (table.facts.order !== 'ring') return [...news];
  return news.filter(({ test }) => {
    const { slot } = test;
    const told = slot === undefined ? undefined : table.entries.get(slot)?.test;
    if (slot === undefined || !told || !sameTest(told, test)) return true;
    table.facts = factsAfterNew(table.facts, test);
    return false;
  });
}
