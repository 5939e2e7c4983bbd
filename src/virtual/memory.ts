/**
 * The memory of a meter that does not exist: a few hundred slots in one of three orders, run numbers, deletions and a
 * factory reset. Pure: every operation gives a new memory. What the slots are called on the wire is the speakers' part.
 */
import type { MemoryOrder } from '../core/download.ts';
import type { ReadingKind, Value } from '../core/reading.ts';

/** What is true of a test apart from when it was made: the part that the meter's clock has no hand in. */
export interface TestFacts {
  readonly kind: ReadingKind;
  /** 1 to 4 values; none for an error test. */
  readonly values: readonly Value[];
  readonly errorCode?: string;
  readonly lot?: string;
  /** `YYYY-MM-DD` or `YYYY-MM`. */
  readonly lotExpiry?: string;
  readonly operator?: string;
  readonly patientId?: string;
  /** `lo` `hi` `rng` `hct` `tmp` `exp`. */
  readonly flags?: readonly string[];
}

/** A test as the memory holds it. */
export interface StoredTest extends TestFacts {
  /** Which test of the meter's life this is, from 1; a factory reset does not restart it. Never told on the wire. */
  readonly made: number;
  /** Running number since the last factory reset. */
  readonly runNumber: number;
  /** The meter's own stamp: `YYYY-MM-DDThh:mm[:ss]`, or `-` where the clock was not set. */
  readonly stamp: string;
  /** How often the clock had lost power. */
  readonly losses: number;
}

/** A test and the slot under which it is told. */
export interface SlotEntry {
  readonly slot: number;
  readonly test: StoredTest;
}

export interface Memory {
  readonly capacity: number;
  readonly order: MemoryOrder;
  /** The held tests, oldest first. `slot` is kept only by a ring; elsewhere it follows from the place. */
  readonly held: readonly SlotEntry[];
  /** The slot that a ring writes next. */
  readonly next: number;
  /** The last running number given out. */
  readonly lastRun: number;
  /** Tests made over the meter's life. */
  readonly made: number;
}

/** A memory as it leaves the factory. */
export const emptyMemory = (capacity: number, order: MemoryOrder): Memory => ({
  capacity,
  order,
  held: [],
  next: 1,
  lastRun: 0,
  made: 0,
});

/** Keeps one more test; a full memory loses its oldest, a ring what stood in the slot that it writes. */
export function keep(memory: Memory, facts: TestFacts, stamp: string, losses: number): Memory {
  const made = memory.made + 1;
  const lastRun = memory.lastRun + 1;
  const entry: SlotEntry = { slot: memory.next, test: { ...facts, made, runNumber: lastRun, stamp, losses } };
  const [oldest] = memory.held;
  const overwrites =
    memory.order === 'ring' ? oldest?.slot === memory.next : memory.held.length === memory.capacity && oldest;
  const kept = overwrites ? memory.held.slice(1) : memory.held;
  const next = memory.order === 'ring' ? (memory.next % memory.capacity) + 1 : 1;
  return { ...memory, held: [...kept, entry], next, lastRun, made };
}

/** Deletes one test by its place among the held ones, 0 the oldest. A ring leaves its slot empty; elsewhere the others close up. */
export const deleteOne = (memory: Memory, place: number): Memory => ({
  ...memory,
  held: memory.held.filter((_, i) => i !== place),
});

/** Deletes every test. Run numbers go on, and a ring writes on where it was. */
export const deleteAll = (memory: Memory): Memory => ({ ...memory, held: [] });

/** As from the factory: no tests, run numbers from 1, a ring from slot 1. */
export const factoryReset = (memory: Memory): Memory => ({
  ...emptyMemory(memory.capacity, memory.order),
  made: memory.made,
});

/** The held tests under their slots, by ascending slot: the order in which a meter tells them. */
export function bySlot(memory: Memory): SlotEntry[] {
  const { held, order } = memory;
  if (order === 'ring') return held.toSorted((a, b) => a.slot - b.slot);
  const tests = order === 'newest' ? held.toReversed() : held;
  return tests.map(({ test }, i) => ({ slot: i + 1, test }));
}
