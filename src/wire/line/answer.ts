/** One answer to READ as a capture tells it, and what it means for the memory table. */
import type { TestRecord } from '../../core/reading.ts';
import {
  addEntries,
  applyNew,
  displace,
  type Entry,
  emptyTable,
  factsAfterNew,
  type MemoryFacts,
  type MemoryTable,
  putAside,
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
  const seam = seamOf(answer);
  const entries = new Map<number, Entry>();
  /** Tests that were told and have left the memory before the answer ended, by the slots that they would have then. */
  const fallen: Fallen[] = [];
  recs.forEach((rec, i) => {
    if (rec.slot === undefined) return;
    const slot = rec.slot + seam.movedBy(i);
    if (slot < 1 || slot > table.facts.capacity) {
      if (rec.test && (isDirect || !rec.isDoubtful)) fallen.push({ slot, test: rec.test });
      return;
    }
    entries.set(slot, {
      body: rec.body,
      test: rec.test,
      isProven: isDirect,
      isDoubtful: rec.isDoubtful && !isDirect,
    });
  });
  const range = rangeOf(table, answer, seam, claim);
  makeRoom(table, answer.news, entries);
  if (isDirect && range === 'whole') replaceTable(table);
  moveOn(table, seam, fallen);
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

/** A test that has left the memory, and the slot that it would have now. */
interface Fallen {
  readonly slot: number;
  readonly test: TestRecord;
}

/**
 * The tests that were made while an answer was told take their places. What they displace is known from this answer
 * (`told`), from an earlier one, or from both: then it is one test. Where they do not agree both are kept.
 */
function moveOn(table: MemoryTable, seam: Seam, told: readonly Fallen[]): void {
  const { order, capacity } = table.facts;
  const isNewest = order === 'newest';
  const known: Fallen[] = [];
  let left = Math.abs(seam.movedBy(-1));
  for (const made of seam.news) {
    if (isNewest || table.facts.held >= capacity) left--;
    const before = table.displaced.length;
    applyNew(table, made.test, made.body);
    const slot = isNewest ? capacity + 1 + left : -left;
    for (const test of table.displaced.splice(before))
      if (!told.some((t) => t.slot === slot && isSame(t.test, test))) known.push({ slot, test });
  }
  const oldestFirst = [...known, ...told].sort((a, b) => (isNewest ? b.slot - a.slot : a.slot - b.slot));
  table.displaced.push(...oldestFirst.map(({ test }) => test));
}

function flawOf(answer: Answer, claim: Claim | undefined): AnswerFlaw {
  if (answer.isAborted) return 'aborted';
  if (!claim) return answer.sawDamage ? 'damaged' : 'cut-off';
  if (claim.count === answer.recs.length) return 'proof-differs';
  return answer.sawDamage ? 'damaged' : 'count-differs';
}

/** A proven answer of the whole memory stands for all that was told before, but for what has been overwritten. */
function replaceTable(table: MemoryTable): void {
  const { facts, displaced, forgotten } = table;
  putAside(table);
  Object.assign(table, emptyTable(facts), { displaced, forgotten });
}

/** The stretch that an answer covers; where the question is not known, what its lines tell. */
function rangeOf(
  table: MemoryTable,
  answer: Answer,
  seam: Seam,
  claim: Claim | undefined,
): Range | 'whole' | undefined {
  if (answer.range !== undefined && answer.range !== 'whole') return answer.range;
  const hasSlot = (rec: ToldRec): boolean => rec.slot !== undefined;
  const first = answer.recs.find(hasSlot)?.slot ?? 1;
  const last = answer.recs.findLast(hasSlot)?.slot ?? 0;
  // Slots moved while they were told: what lies behind the last one told may have moved past the end of the answer, and
  // in a memory that drops its oldest the test at the seam has moved past the question.
  if (seam.knownFrom !== undefined) return { from: seam.knownFrom, to: last };
  if (answer.range === 'whole') return 'whole';
  if (claim && claim.count >= table.facts.held) return 'whole';
  return first <= last ? { from: first, to: last } : undefined;
}

/** Where the tests of an answer moved while they were told, since others were made meanwhile. */
interface Seam {
  /** The tests that were made, as far as the lines behind them show the memory with them. */
  readonly news: readonly ToldNew[];
  /** By how many slots the test of the n-th line has moved since it was told. */
  movedBy(n: number): number;
  /** The first slot from which on the answer tells all; absent where nothing moved. */
  readonly knownFrom?: number;
}

const NO_SEAM: Seam = { news: [], movedBy: () => 0 };

/**
 * A meter may tell its memory as it was when it was asked, or as it is at each line. Only the second moves tests while
 * it tells them. In a ring none moves.
 */
function seamOf(answer: Answer): Seam {
  const { order, held, capacity } = answer.facts;
  if (answer.news.length === 0) return NO_SEAM;
  if (order === 'newest') return seamOfNewest(answer);
  return order === 'oldest' && held + answer.news.length > capacity ? seamOfFullOldest(answer) : NO_SEAM;
}

const isSame = (a: TestRecord | undefined, b: TestRecord | undefined): boolean =>
  a !== undefined && b !== undefined && sameTest(a, b);

/**
 * Newest first: each test that is made moves the others one slot down, so that the line behind it repeats the one
 * before; made before the first line, it is that line.
 */
function seamOfNewest({ recs, news }: Answer): Seam {
  const made: Answer['news'] = [];
  for (let i = 0; i < news.length; ) {
    const after = news[i]?.after ?? 0;
    const together = news.filter((n) => n.after === after);
    const told = after === 0 ? together.at(-1)?.test : recs[after - together.length]?.test;
    if (!isSame(told, recs[after]?.test)) break;
    made.push(...together);
    i += together.length;
  }
  if (made.length === 0) return NO_SEAM;
  return {
    news: made,
    movedBy: (n) => made.filter(({ after }) => after > n).length,
    ...(made.some(({ after }) => after > 0) ? { knownFrom: 1 } : {}),
  };
}

/**
 * Oldest first: once the memory is full each test that is made drops the oldest and moves the others one slot up, so that
 * one is passed over; the last line is the new test. What was passed over is not told, and no slot before it is proven
 * empty.
 */
function seamOfFullOldest({ facts, recs, news }: Answer): Seam {
  const made = news.filter(({ after }) => after < recs.length);
  const moving = made.slice(Math.max(0, facts.capacity - facts.held));
  const last = moving.at(-1);
  if (!last || !isSame(last.test, recs.at(-1)?.test)) return NO_SEAM;
  const knownFrom = recs[last.after]?.slot;
  return {
    news: made,
    movedBy: (n) => -moving.filter(({ after }) => after > n).length,
    ...(last.after > 0 && knownFrom !== undefined ? { knownFrom } : {}),
  };
}

/** In a ring, what an earlier answer told leaves where this one holds a test that was made since in its slot. */
function makeRoom(table: MemoryTable, news: readonly ToldNew[], entries: ReadonlyMap<number, Entry>): void {
  if (table.facts.order !== 'ring') return;
  for (const { test } of news) {
    const { slot = 0 } = test;
    if (isSame(entries.get(slot)?.test, test) && !isSame(table.entries.get(slot)?.test, test)) displace(table, slot);
  }
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
