/**
 * The shape that both protocols have on the meter's side: a pure step from what happens on the port to bytes with the
 * moments from which they may go out. It is written from the protocol pages alone and shares no code with the
 * gateway's conversations, so that each bears witness of the other.
 */
import type { Instant } from '../core/instant.ts';
import type { TestFacts } from './memory.ts';
import type { VirtualMeter } from './meter.ts';

/** What happens to a meter on its port. `at` is true time; for bytes, when the last one had arrived. */
export type SpeakerInput =
  /** Somebody connected. Whatever was going on before is over. */
  | { readonly kind: 'opened'; readonly at: Instant }
  | { readonly kind: 'bytes'; readonly at: Instant; readonly data: Uint8Array }
  /** The moment that the last step gave as `wakeAt` has come. */
  | { readonly kind: 'wake'; readonly at: Instant }
  /** A test ends while the meter is docked. */
  | { readonly kind: 'test'; readonly at: Instant; readonly facts: TestFacts };

/** Bytes to send, in this order, beginning at `from` or later. */
export interface Send {
  readonly from: Instant;
  readonly data: Uint8Array;
  /** The test that these bytes tell of; `last` where it is then told whole. */
  readonly tells?: { readonly made: number; readonly last: boolean };
}

export interface SpeakerStep<S> {
  readonly state: S;
  readonly sends: readonly Send[];
  /** When the meter wants to be woken; absent: not at all. A later step replaces it. */
  readonly wakeAt?: Instant;
}

/** One protocol's meter side. The state holds the meter itself, which outlives a conversation. */
export interface Speaker<S extends { readonly meter: VirtualMeter }> {
  begin(meter: VirtualMeter): S;
  step(state: S, input: SpeakerInput): SpeakerStep<S>;
}
