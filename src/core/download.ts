/**
 * One download: what one meter told in one conversation, decoded but not yet settled or placed. Made by the wire
 * from a capture alone, as a pure function of its lines.
 */
import type { Instant } from './instant.ts';
import type { MeterTime, Wall } from './meter-time.ts';
import type { TestRecord } from './reading.ts';

/** Serial number and model together name one meter. */
export interface MeterIdentity {
  readonly id: string;
  readonly model: string;
  readonly firmware?: string;
}

/**
 * How a meter's memory is laid out: `newest` (slot 1 is the newest), `oldest` (slot 1 is the oldest), `ring` (a result
 * keeps its slot until it is overwritten).
 */
export type MemoryOrder = 'newest' | 'oldest' | 'ring';

/**
 * A piece of the memory image in the order in which the tests were made, oldest first. A hole stands where tests may
 * be that were not told: the transfer broke off, or a line could not be read. `atMost` is how many, where known.
 */
export type ImageItem =
  | { readonly kind: 'test'; readonly test: TestRecord }
  | { readonly kind: 'hole'; readonly atMost?: number };

/** What a conversation proves about the meter's clock, in the order in which it happened. */
export type ClockEvent =
  /** The clock showed `shown` at some moment between `from` (asked) and `to` (answered). */
  | { readonly kind: 'anchor'; readonly shown: MeterTime; readonly from: Instant; readonly to: Instant }
  /** The clock was not set (`-`) at some moment between the two. */
  | { readonly kind: 'unset'; readonly from: Instant; readonly to: Instant }
  /**
   * The gateway set the clock to `asked` between the two. `confirmed`: the reading back agreed; `refused`: the meter
   * said no or showed another time; `unknown`: no answer came, it may or may not have been set.
   */
  | {
      readonly kind: 'set';
      readonly asked: Wall;
      readonly from: Instant;
      readonly to: Instant;
      readonly outcome: 'confirmed' | 'refused' | 'unknown';
    };

/** Why a download is not complete, as a stable word. */
export type CutReason =
  | 'cut-off'
  | 'damaged'
  | 'count-differs'
  | 'proof-differs'
  | 'aborted'
  | 'refused'
  | 'identity-doubtful';

export interface Download {
  readonly meter: MeterIdentity;
  readonly protocol: 'line' | 'astm';
  /** Name of the meter profile it was read with. */
  readonly profile: string;
  /** IANA zone of the dock. */
  readonly zone: string;
  readonly port: string;
  /** When the conversation with this meter began. */
  readonly at: Instant;
  /** When its last byte was exchanged. */
  readonly until: Instant;
  readonly order: MemoryOrder;
  /** Slots of the memory; absent where neither meter nor profile tells. */
  readonly capacity?: number;
  /** Results that the meter says it holds; for E1394 the number that it sent in a whole message. */
  readonly held?: number;
  /** Clock power losses over the meter's life, where it counts. */
  readonly lossCount?: number;
  /** What the clock shows after a power loss, where the meter says so. */
  readonly resetStamp?: Wall;
  /** True only where the whole memory was told and proven. */
  readonly complete: boolean;
  readonly cut?: CutReason;
  /** The memory in the order of the tests. A complete image has no holes. */
  readonly image: readonly ImageItem[];
  /** Results sent unasked after the image was read, in the order of the tests. */
  readonly fresh: readonly TestRecord[];
  readonly clock: readonly ClockEvent[];
  readonly stats: DownloadStats;
}

export interface DownloadStats {
  /** Bytes from and to the meter. */
  readonly bytes: number;
  /** Lines or frames that were dropped because their check or form was wrong. */
  readonly damagedLines: number;
  /** Questions asked again, or frames refused. */
  readonly retries: number;
  readonly durationMs: number;
}

/** A meter's name in the store: serial number and model, since a serial number alone is unique only with its model. */
export type MeterKey = string & { readonly __brand: 'MeterKey' };
/** The key of a meter. The separator cannot occur in either part (both are printable text). */
export const meterKey = (m: Pick<MeterIdentity, 'id' | 'model'>): MeterKey => `${m.model}\u0001${m.id}` as MeterKey;
