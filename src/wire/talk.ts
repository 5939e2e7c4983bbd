/**
 * The shape that every conversation with a meter has, whatever the protocol: a pure step function. Bytes, the end of
 * a timer and the fate of the port come in; bytes to send, timers and progress come out. The driver beside it owns
 * the port and the clock; a conversation never does.
 */

import type { MeterIdentity } from '../core/download.ts';
import type { FaultCode } from '../core/fault.ts';
import type { Instant } from '../core/instant.ts';
import type { TestRecord } from '../core/reading.ts';

/** What happens to a conversation. `at` is the true time at which it happened; for bytes, when the last one had arrived. */
export type TalkInput =
  /** The port is open. Always the first input. */
  | { readonly kind: 'opened'; readonly at: Instant }
  | { readonly kind: 'bytes'; readonly at: Instant; readonly data: Uint8Array }
  /** The one running timer has ended. */
  | { readonly kind: 'timer'; readonly at: Instant }
  /** Answer to the effect `secure`: every byte so far is in the store and flushed to disk. */
  | { readonly kind: 'safe'; readonly at: Instant }
  /** The port is gone. Always the last input. */
  | { readonly kind: 'closed'; readonly at: Instant }
  /** Somebody wants to stop: leave politely as soon as possible. */
  | { readonly kind: 'stop'; readonly at: Instant };

/** What a conversation wants done, in this order. */
export type TalkEffect =
  | { readonly kind: 'send'; readonly data: Uint8Array }
  /** Starts the timer, replacing the running one. */
  | { readonly kind: 'timer'; readonly afterMs: number }
  | { readonly kind: 'timer-off' }
  | { readonly kind: 'progress'; readonly progress: TalkProgress }
  /** Asks that what came so far is made safe; answered by the input `safe`. Nothing in the meter is changed before. */
  | { readonly kind: 'secure' }
  | { readonly kind: 'end'; readonly outcome: TalkOutcome };

export interface TalkProgress {
  /** waiting: for a meter that sends by itself; waking: HELLO; reading: the memory; repairing: damaged results are asked again; setting: the clock; leaving. */
  readonly phase: 'waiting' | 'waking' | 'reading' | 'repairing' | 'setting' | 'leaving';
  readonly meter?: MeterIdentity;
  /** Results that the meter says it holds. */
  readonly held?: number;
  /** Results read so far. */
  readonly read: number;
  /** The result that has just arrived whole. */
  readonly test?: TestRecord;
}

export interface TalkOutcome {
  /** True where the whole memory was told and proven. */
  readonly complete: boolean;
  /** True where the clock was set and the reading back agreed. */
  readonly clockSet: boolean;
  /** Why it is not complete or did not begin: a code and one sentence with the next step. */
  readonly trouble?: { readonly code: FaultCode; readonly message: string; readonly hint: string };
}

/** A conversation: an initial state and a pure step. */
export interface Talk<S> {
  readonly initial: S;
  readonly step: (state: S, input: TalkInput) => { readonly state: S; readonly effects: readonly TalkEffect[] };
}

/** When the gateway sets a meter's clock after a complete and safely stored download. `when-off`: by more than 60 s. */
export type SetClock = 'never' | 'when-off' | 'always';
