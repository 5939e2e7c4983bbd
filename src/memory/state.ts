/**
 * What the gateway knows of one meter's memory between two downloads, and what settling one more download tells.
 * Plain data that survives JSON.
 */
import type { Instant } from '../core/instant.ts';
import type { Wall } from '../core/meter-time.ts';
import type { DownloadId, ReadingId, TestRecord } from '../core/reading.ts';

/** Why a test is no longer in the memory. `vanished`: deleted or overwritten, which of the two cannot be told. */
export type Departure = 'deleted' | 'overwritten' | 'vanished';

/** One known test in the meter's lifetime sequence. */
export interface KnownTest {
  readonly kind: 'test';
  readonly id: ReadingId;
  readonly record: TestRecord;
  /** `provisional`: seen only in incomplete downloads. */
  readonly status: 'settled' | 'provisional';
  /** Set once the test is no longer in the memory. */
  readonly gone?: Departure;
  /** Slot that the test keeps until it is overwritten; only where a ring memory told it by the line protocol. */
  readonly ringSlot?: number;
  /** The reading that claims the same place (same run number, or same ring slot and time) with other content. */
  readonly conflictWith?: ReadingId;
  /** Number of the memory that holds it; only where two memories under one name were found. */
  readonly memory?: number;
}

/** A place in the sequence where tests may still turn up that an incomplete download did not tell. */
export interface SequenceGap {
  readonly kind: 'gap';
  readonly atMost?: number;
  /** As for a test. */
  readonly memory?: number;
}

/** Tests that left a memory and are no longer needed, where a test of another memory stands before them. */
export interface PastTests {
  readonly kind: 'past';
  readonly count: number;
}

export type SequenceItem = KnownTest | SequenceGap | PastTests;

/** True where a test or gap is of a memory. One without a number is of any: only one memory is known then. */
export const isOf = (item: KnownTest | SequenceGap, memory: number): boolean => (item.memory ?? memory) === memory;

/** What was known when a memory was last told. */
export interface LastTold {
  readonly download: DownloadId;
  readonly at: Instant;
  readonly complete: boolean;
  /** True where the memory held as many results as it has slots. */
  readonly full: boolean;
  /** What the meter's clock showed when it was last seen, and when that was; absent where it was not seen. */
  readonly clock?: { readonly shown: Wall; readonly at: Instant };
}

/** A memory under the meter's name that was not told by the last download. */
export interface OtherMemory {
  readonly memory: number;
  readonly highestRun?: number;
  readonly last?: LastTold;
}

/** What a memory held when all of it vanished: emptied or overwritten, or another meter with the same name was read. */
export interface VanishedImage {
  readonly memory: number;
  /** Position of its first test in the lifetime sequence. */
  readonly from: number;
  readonly items: readonly SequenceItem[];
}

/**
 * The end of a meter's lifetime sequence of tests, oldest first: everything from the oldest test on that may still be
 * in the memory. `retired` counts the tests before it; a test's position in the lifetime sequence is `retired` plus
 * its index among the tests of `sequence`.
 *
 * Where two memories were found under one name, the tests of all of them stand here, each in its memory's own order and
 * behind all that was known when it was first told; every test and gap then carries the number of its memory.
 */
export interface MemoryState {
  readonly retired: number;
  readonly sequence: readonly SequenceItem[];
  /** Highest running number seen since the last restart of the numbers. */
  readonly highestRun?: number;
  readonly last?: LastTold;
  /** Number of the memory told last; 0 where absent. The number changes where nothing that was known is told any more. */
  readonly memory?: number;
  /** The highest number given to a memory; 0 where absent. */
  readonly highestMemory?: number;
  /** The other memories, the one not told for the longest time first. */
  readonly others?: readonly OtherMemory[];
  /** What they held, until one of them is told again. */
  readonly images?: readonly VanishedImage[];
  /** When a memory was last told again after another one: since then it is known that two share the name. */
  readonly sharedAt?: Instant;
}

/** A meter of which nothing is known. */
export const EMPTY_MEMORY: MemoryState = { retired: 0, sequence: [] };

/** What settling one download found. */
export interface Settled {
  readonly state: MemoryState;
  /** The sequence with this download in it, before anything was taken off it: it gives every test its position. */
  readonly written: Pick<MemoryState, 'retired' | 'sequence'>;
  /** Number of the memory that this download told, and earlier downloads that are now known to have told another one. */
  readonly memory: number;
  readonly relabelled: readonly { readonly download: DownloadId; readonly memory: number }[];
  /** True where this download showed that two memories share the meter's name and that was not known, or long ago. */
  readonly foundShared: boolean;
  /** For every test told in the download (image, then fresh), in the order of the tests: which reading it is. */
  readonly sightings: readonly { readonly place: string; readonly reading: ReadingId; readonly isNew: boolean }[];
  /** Readings that were not known before, in the order of the tests. */
  readonly added: readonly KnownTest[];
  /** Known readings whose record, status, departure or conflict changed. */
  readonly changed: readonly KnownTest[];
  /** Tests that were known to be in the memory and no longer are. */
  readonly vanished: readonly { readonly reading: ReadingId; readonly how: Departure }[];
  /** Pairs that claim the same place with other content; both are kept and both held. */
  readonly conflicts: readonly { readonly reading: ReadingId; readonly with: ReadingId }[];
  /** Number of tests of this download that were known, and new. */
  readonly known: number;
  readonly fresh: number;
  /** True where tests may have been overwritten unread: see lostUnread in settle.ts; or run numbers are missing. */
  readonly possiblyLost: boolean;
  /** True where the running numbers started again. */
  readonly runRestarted: boolean;
  /** True where two histories explain the images equally well and the choice keeps a reading that may be a repeat. */
  readonly doubtful: boolean;
  /** The newest test in the sequence that was surely made before this download; absent if there is none. */
  readonly after?: ReadingId;
  /** How many of the tests that follow `after` in the sequence may nevertheless have been made before this download: 0 after a complete one; absent if unknown. */
  readonly mayPrecede?: number;
}
