/** The state of a line-protocol conversation, its options and its times. Plain immutable data. */
import type { MeterIdentity } from '../../core/download.ts';
import type { Instant } from '../../core/instant.ts';
import type { Wall } from '../../core/meter-time.ts';
import type { Zone } from '../../core/zone.ts';
import type { SetClock, TalkOutcome } from '../talk.ts';
import type { ReadClock } from './clock-check.ts';
import type { LineTail } from './decoder.ts';
import type { MeterLine } from './messages.ts';
import type { Claim } from './proof.ts';
import type { ToldLine } from './repair.ts';

/** How long to wait, in milliseconds, and how often to ask. */
export interface LineTimings {
  /** Between two HELLOs to a meter that may be asleep. */
  readonly wakeMs: number;
  readonly wakeTries: number;
  /** For the first byte of an answer. */
  readonly firstByteMs: number;
  /** Between two lines of an answer. */
  readonly betweenMs: number;
  /** Before a busy meter is asked again. */
  readonly busyMs: number;
  /** For the answer to BYE. */
  readonly byeMs: number;
  /** Times that one question is asked in all. */
  readonly tries: number;
}

/** The times of the protocol. */
export const LINE_TIMINGS: LineTimings = {
  wakeMs: 1000,
  wakeTries: 5,
  firstByteMs: 2000,
  betweenMs: 2000,
  busyMs: 2000,
  byeMs: 1000,
  tries: 3,
};

/** A meter that stays docked after it was read. */
export interface WatchedMeter {
  readonly identity: MeterIdentity;
  /** Results that it said it holds when it was read. */
  readonly held: number;
  /** How often it is asked whether it is still the one, milliseconds. */
  readonly everyMs: number;
}

export interface LineTalkOptions {
  /** Zone of the dock: a clock is set to its local time. */
  readonly zone: Zone;
  readonly setClock: SetClock;
  /** False where the profile says that this meter's clock cannot be set over the line. */
  readonly clockSettable: boolean;
  /** True for a dock: once all is done it ends without BYE, so that the meter goes on telling tests unasked. */
  readonly staysDocked?: boolean;
  /** A meter that was read here before: it is only watched, and read when that is called for. */
  readonly watches?: WatchedMeter;
  readonly timings?: Partial<LineTimings>;
}

/** What a conversation goes back to once HELLO has shown that the same meter is still there. */
export type Resume =
  | { readonly kind: 'read' }
  | { readonly kind: 'repair'; readonly plan: RepairPlan }
  /** The proof held, but the meter had said that it holds more: what does it say now? */
  | { readonly kind: 'recount' }
  | { readonly kind: 'set'; readonly tries: number }
  /** Is it still the meter that was read, and is there anything new in it? */
  | { readonly kind: 'watch' };

/** Slots still to be asked, one by one; `tries` counts the questions for the first of them. */
export interface RepairPlan {
  readonly slots: readonly number[];
  readonly tries: number;
}

/** Where the conversation stands. */
export type Stage =
  | { readonly kind: 'new' }
  | { readonly kind: 'waking'; readonly tries: number; readonly graces: number; readonly resume: Resume }
  /** `added`: slots in this answer that no answer before has told. */
  | { readonly kind: 'reading'; readonly lines?: ToldLine; readonly added: number; readonly sawDamage: boolean }
  | { readonly kind: 'repairing'; readonly plan: RepairPlan; readonly got?: string }
  /** A busy meter is left alone for a while. */
  | { readonly kind: 'pausing'; readonly resume: Resume }
  | { readonly kind: 'securing' }
  | { readonly kind: 'awaiting-second'; readonly tries: number }
  | { readonly kind: 'setting'; readonly tries: number; readonly asked: Wall }
  /** Nothing to do until the meter tells a test, or for a while. */
  | { readonly kind: 'watching' }
  | { readonly kind: 'leaving'; readonly outcome: TalkOutcome }
  | { readonly kind: 'ended' };

export interface LineState {
  readonly stage: Stage;
  readonly tail: LineTail;
  /** When the question that waits for its answer was first asked. */
  readonly askedAt: Instant;
  readonly lastByteAt?: Instant;
  /** Frames since the last question: a bound for meters that never stop. */
  readonly framesSinceAsked: number;
  /** Good lines in all. */
  readonly goodLines: number;
  readonly meter?: MeterLine;
  /** The newest reading of the clock. */
  readonly clock?: ReadClock;
  /** A test was told before the memory was asked for. */
  readonly newHeard: boolean;
  /** Bodies of the memory by slot, over all answers so far. */
  readonly merged: ReadonlyMap<number, string>;
  /** Slots before which a damaged line was seen. */
  readonly suspects: ReadonlySet<number>;
  /** What the last END said of the whole memory. */
  readonly claim?: Claim;
  /** Times that the whole memory was asked for. */
  readonly readTries: number;
  /** A test was made since the memory was last asked for: slots may have moved. */
  readonly isStale: boolean;
  /** The whole memory has been asked once more because of that. */
  readonly wasRenewed: boolean;
  /** The whole memory is here, END's proof holds, and it agrees with what the meter says that it holds. */
  readonly isProven: boolean;
  /** Good lines of the proven memory that cannot be used. */
  readonly unusable: number;
  readonly clockSet: boolean;
  /** The ERR with which the meter answered last. */
  readonly refusal?: string | undefined;
}
