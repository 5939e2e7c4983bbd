/**
 * A capture: every byte of one conversation with its times. The raw truth from which everything else is derived.
 * Its file form is described in protocols/capture/.
 */
import type { Instant } from './instant.ts';

/** `in` = from the meter, `at` is when its last byte had arrived; `out` = to the meter, `at` is when sending began. */
export interface CaptureChunk {
  readonly at: Instant;
  readonly dir: 'in' | 'out';
  readonly data: Uint8Array;
}

export interface Capture {
  /** As the person named it: `/dev/ttyUSB0`, `COM3`, `tcp://host:port`. */
  readonly port: string;
  /** Name of the meter profile. */
  readonly profile: string;
  /** IANA zone of the dock. */
  readonly zone: string;
  readonly openedAt: Instant;
  readonly chunks: readonly CaptureChunk[];
  /**
   * The PC's clock was changed while this was recorded, by so many seconds (positive: put forward); absent where that
   * was not noticed. The times run on evenly from `openedAt`, and each may be wrong by so much, either way.
   */
  readonly clockStepS?: number;
  /** Absent if the program died before the conversation ended. */
  readonly closedAt?: Instant;
}
