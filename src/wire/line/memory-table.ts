/**
 * One meter's memory as a capture tells it: slot by slot, over several answers, single slots fetched again, and tests
 * that were made meanwhile. Knows which stretches END has proven, where holes are, and in which order the tests were
 * made. A builder for `decodeLine`; it is changed in place.
 */
import type { ImageItem, MemoryOrder } from '../../core/download.ts';
import type { TestRecord } from '../../core/reading.ts';
import { type Claim, isProven } from './proof.ts';
import { sameTest } from './same-test.ts';

/** A told slot. `test` is undefined where its line was good but cannot be used. */
export interface Entry {
  readonly body: string;
  readonly test: TestRecord | undefined;
  readonly isProven: boolean;
  /** True where the line may have come from another meter. */
  readonly isDoubtful: boolean;
}

/** A stretch of slots, both ends included. */
export interface Range {
  readonly from: number;
  readonly to: number;
}

/** What the meter says of its memory. */
export interface MemoryFacts {
  readonly capacity: number;
  readonly held: number;
  /**
   * Rings: the fewest that it surely holds, where a test made since may have taken the place of another: in a ring that
   * is not full, because results were deleted, nobody says which slots are empty. Absent: `held` is what it holds.
   */
  readonly fewest?: number;
  readonly order: MemoryOrder;
  /** Rings: the slot that is written next, where the meter says so. */
  readonly next?: number;
}

export interface MemoryTable {
  facts: MemoryFacts;
  entries: Map<number, Entry>;
  /** Stretches whose answers END has proven: a slot in them that was not told is empty. */
  provenRanges: Range[];
  /** Claims of ENDs that do not hold yet: single slots fetched later may make them hold. */
  claims: (Range & Claim)[];
  /** Tests that were told and have been overwritten since, oldest first. */
  displaced: TestRecord[];
  /** Lists of tests that were told, oldest first, each put aside when a later answer contradicted or replaced it. */
  forgotten: TestRecord[][];
}

/** A memory of which nothing has been told yet. */
export const emptyTable = (facts: MemoryFacts): MemoryTable => ({
  facts,
  entries: new Map(),
  provenRanges: [],
  claims: [],
  displaced: [],
  forgotten: [],
});

/** Adds an answer's lines. Where they contradict older ones the memory has changed: what is older is forgotten. */
export function addEntries(table: MemoryTable, added: ReadonlyMap<number, Entry>): void {
  for (const [slot, entry] of added) {
    const known = table.entries.get(slot);
    if (!known || known.body === entry.body) continue;
    if (known.test && entry.test && sameTest(known.test, entry.test)) continue;
    putAside(table);
    table.entries.clear();
    table.provenRanges = [];
    table.claims = [];
    break;
  }
  for (const [slot, entry] of added) {
    const known = table.entries.get(slot);
    if (!known) table.entries.set(slot, entry);
    else {
      const isProven = entry.isProven || known.isProven;
      const isDoubtful = entry.isDoubtful && known.isDoubtful;
      table.entries.set(slot, { ...entry, isProven, isDoubtful });
    }
  }
}

/** Puts aside what was told so far. What may have come from another meter is left out. */
export function putAside(table: MemoryTable): void {
  const { entries, facts } = table;
  if (entries.size === 0) return;
  const told = slotOrder(table, Math.max(facts.capacity, ...entries.keys())).flatMap((slot) => {
    const entry = entries.get(slot);
    return entry?.test && !entry.isDoubtful ? [entry.test] : [];
  });
  table.forgotten.push(told);
}

/** Makes every claim good that holds by now. */
export function settleClaims(table: MemoryTable): void {
  table.claims = table.claims.filter((claim) => {
    const slots = [...table.entries.keys()].filter((s) => s >= claim.from && s <= claim.to).sort((a, b) => a - b);
    const bodies = slots.map((slot) => table.entries.get(slot)?.body ?? '');
    if (!isProven(bodies, claim)) return true;
    for (const slot of slots) {
      const entry = table.entries.get(slot);
      if (entry) table.entries.set(slot, { ...entry, isProven: true, isDoubtful: false });
    }
    table.provenRanges.push({ from: claim.from, to: claim.to });
    return false;
  });
}

/** A test was made and stored by the meter: what was told moves as the order of the memory says. */
export function applyNew(table: MemoryTable, test: TestRecord, body: string): void {
  const { capacity, held, order, next } = table.facts;
  const isFull = held >= capacity;
  const entry: Entry = { body, test, isProven: true, isDoubtful: false };
  table.claims = [];
  if (order === 'newest') {
    shift(table, 1);
    place(table, 1, entry);
  } else if (order === 'oldest') {
    if (isFull) shift(table, -1);
    // The meter knows its place best: others may have been made of which nothing was heard.
    place(table, isFull ? capacity : (slotWithin(test.slot, capacity) ?? held + 1), entry);
  } else {
    const slot = slotWithin(test.slot ?? next, capacity);
    if (slot !== undefined) place(table, slot, entry);
  }
  table.facts = factsAfterNew(table.facts, test);
}

/** What a meter would say of its memory after one more test. */
export function factsAfterNew(facts: MemoryFacts, test: TestRecord): MemoryFacts {
  const { capacity, held, order } = facts;
  const more = Math.min(held + 1, capacity);
  if (order === 'newest') return { ...facts, held: more };
  if (order === 'oldest') return { ...facts, held: Math.max(more, slotWithin(test.slot, capacity) ?? 0) };
  const slot = slotWithin(test.slot ?? facts.next, capacity);
  const next = slot === undefined ? {} : { next: (slot % capacity) + 1 };
  return { ...facts, held: more, fewest: facts.fewest ?? held, ...next };
}

/** The slot, where the memory has it. */
const slotWithin = (slot: number | undefined, capacity: number): number | undefined =>
  slot !== undefined && slot <= capacity ? slot : undefined;

function place(table: MemoryTable, slot: number, entry: Entry): void {
  const there = table.entries.get(slot)?.test;
  if (there && entry.test && !sameTest(there, entry.test)) displace(table, slot);
  table.entries.set(slot, entry);
  table.provenRanges.push({ from: slot, to: slot });
}

/** What was told in a slot is no longer there. */
export function displace(table: MemoryTable, slot: number): void {
  const gone = table.entries.get(slot);
  table.entries.delete(slot);
  if (gone?.test && !gone.isDoubtful) table.displaced.push(gone.test);
}

function shift(table: MemoryTable, by: 1 | -1): void {
  const { capacity } = table.facts;
  displace(table, by === 1 ? capacity : 1);
  table.entries = new Map([...table.entries].map(([slot, entry]) => [slot + by, entry]));
  table.provenRanges = table.provenRanges
    .map(({ from, to }) => ({ from: Math.max(1, from + by), to: Math.min(capacity, to + by) }))
    .filter(({ from, to }) => from <= to);
}

/**
 * The image, oldest test first, with its holes. `isWhole`: every result that the meter holds is told and proven. `held`:
 * how many it holds.
 */
export function imageOf(table: MemoryTable): { image: ImageItem[]; isWhole: boolean; held: number } {
  const { facts, entries } = table;
  const isProvenSlot = provenSlots(table);
  const told = [...entries.values()];
  const isWhole = told.length >= (facts.fewest ?? facts.held) && told.every((entry) => entry.isProven && entry.test);
  const held = isWhole ? Math.min(facts.held, told.length) : facts.held;
  /** Results that the meter holds and that were not told: no hole can be larger than that. */
  const untold = Math.max(0, held - told.length);
  const last = facts.order === 'ring' ? facts.capacity : facts.held;
  let highest = last;
  for (const slot of entries.keys()) highest = Math.max(highest, slot);
  const slots = slotOrder(table, highest);

  const image: ImageItem[] = table.displaced.map((test, i) => ({
    kind: 'test',
    test: { ...test, place: `x${i + 1}` },
  }));
  let gap = 0;
  const closeGap = (): void => {
    if (gap > 0) image.push({ kind: 'hole', atMost: gap });
    gap = 0;
  };
  for (const slot of slots) {
    const entry = entries.get(slot);
    if (entry?.test) {
      closeGap();
      image.push({ kind: 'test', test: atPlace(entry.test, String(slot)) });
    } else if (entry) {
      gap += 1;
    } else if (untold > 0 && slot <= last && !isProvenSlot(slot)) {
      gap += 1;
    }
  }
  closeGap();
  return { image: capHoles(image, untold + told.filter((entry) => !entry.test).length), isWhole, held };
}

/** The test with its place; most of a memory stands where it was told, and need not be copied. */
const atPlace = (test: TestRecord, place: string): TestRecord => (test.place === place ? test : { ...test, place });

/** No hole holds more than all that is missing. */
const capHoles = (image: ImageItem[], missing: number): ImageItem[] =>
  image.map((item) => (item.kind === 'hole' ? { ...item, atMost: Math.min(item.atMost ?? missing, missing) } : item));

function provenSlots(table: MemoryTable): (slot: number) => boolean {
  const ranges = table.provenRanges;
  return (slot) => ranges.some(({ from, to }) => slot >= from && slot <= to);
}

/**
 * Slots in the order in which their tests were made, oldest first. A ring begins at the slot that is written next.
 * Where the meter does not say which that is: behind the only place where running numbers go back; failing that,
 * where loss counts do; failing that, where stamps do; with no such place, or several, in the order of the slots.
 */
function slotOrder(table: MemoryTable, last: number): number[] {
  const { order, next } = table.facts;
  const ascending: number[] = [];
  for (let slot = 1; slot <= last; slot++) ascending.push(slot);
  if (order === 'newest') return ascending.reverse();
  if (order === 'oldest') return ascending;
  const start = next ?? ringStart(table);
  return [...ascending.slice(start - 1), ...ascending.slice(0, start - 1)];
}

function ringStart(table: MemoryTable): number {
  const told = [...table.entries].sort(([a], [b]) => a - b);
  const facets: ((test: TestRecord) => number | undefined)[] = [
    (test) => test.runNumber,
    (test) => test.lossCount,
    (test) => test.meterTime?.wall,
  ];
  for (const facet of facets) {
    const drops: number[] = [];
    let before: number | undefined;
    for (const [slot, { test }] of told) {
      const now = test && facet(test);
      if (now === undefined) continue;
      if (before !== undefined && now < before) drops.push(slot);
      before = now;
    }
    const [only, ...more] = drops;
    if (only !== undefined && more.length === 0) return only;
  }
  return 1;
}
