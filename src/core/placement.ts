/**
 * What the gateway believes about when a test was made, and about what happened to a meter's clock. Made by the clock
 * room; the meter's own stamp is never changed.
 */
import type { Instant } from './instant.ts';

/**
 * How a time came about. `interpolated`: between two anchors of one epoch; `anchored`: one anchor in its epoch;
 * `bounded`: no anchor in its epoch; `displayed`: no anchor in any download.
 */
export type TimeBasis = 'interpolated' | 'anchored' | 'bounded' | 'displayed';

export interface Placement {
  /** Best estimate; absent if there is none. */
  readonly takenAt?: Instant;
  /** Lower bound; absent if open. */
  readonly earliest?: Instant;
  /** Upper bound; absent if open. */
  readonly latest?: Instant;
  readonly basis: TimeBasis;
  /** One sentence that explains this time to a nurse. */
  readonly reason: string;
  /** Flags of the gateway that come from placing, e.g. `time-repeated-hour`. */
  readonly flags: readonly string[];
}

export type IncidentKind =
  | 'power-loss'
  | 'clock-changed'
  | 'fast-drift'
  | 'memory-wrapped'
  | 'deleted-on-meter'
  | 'identity-shared';

export interface Incident {
  readonly kind: IncidentKind;
  readonly earliest?: Instant;
  readonly latest?: Instant;
  /** How far the clock jumped, in seconds, new minus old; absent where unknown or without meaning. */
  readonly sizeS?: number;
  /** Plain words, or empty. */
  readonly likelyCause: string;
  readonly explanation: string;
}
