/**
 * What every outlet is: a place where readings are forwarded to. One driver (`drive.ts`) feeds them all from the log
 * of changes; an outlet only knows how to hand over a batch. Exactly once is made of two halves: the driver hands a
 * delivery over until it is told that it was taken, and the receiver tells a repeat by reading id and version.
 */
import type { OutgoingReading, ShownStatus } from '../core/outgoing.ts';

/** One reading on its way to one outlet. */
export interface Delivery {
  /** Place in the log of changes. */
  readonly seq: number;
  /** The reading as it stands now; `reading.version` is the version that is handed over. */
  readonly reading: OutgoingReading;
  /**
   * The newest version before this one that this outlet was meant to have; absent where it hears of the reading for the
   * first time. `patientId` differs from that of `reading` where the reading was believed to be another person's.
   */
  readonly before?: {
    readonly version: number;
    readonly patientId?: string;
    /** How it stood then. Absent counts as settled: a change of it is told as a correction. */
    readonly status?: ShownStatus;
  };
  /** True where a reading that the outlet has must not be used any more: void, held again, or no longer one of those it wants. */
  readonly isWithdrawn: boolean;
}

/** What the receiver said of one delivery. A refusal is about its content: sending it again would change nothing. */
export type SendResult = { readonly kind: 'taken' } | { readonly kind: 'refused'; readonly reason: string };

/** A place where readings go. Throws Faults where it cannot be reached at all: then nothing is known to be taken. */
export interface Outlet {
  /**
   * Hands over a batch, in its order. Resolves with one result a delivery once the receiver has them safely. Rejects
   * with OUTLET_DOWN (not reached, no answer, disk full): the whole batch is handed over again later, so it must do
   * no harm if part of it was stored.
   */
  send(batch: readonly Delivery[], signal: AbortSignal): Promise<readonly SendResult[]>;
  /** Most deliveries that one `send` may be given. */
  readonly batchSize: number;
  /** Lets go of files and connections. */
  close(): Promise<void>;
}
