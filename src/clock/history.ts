/**
 * What the clock room is given: the tests of one meter in the order in which they were made, and between them the
 * downloads with what they showed of the meter's clock. Plain data; no store, no port, no present time.
 */
import type { ClockEvent } from '../core/download.ts';
import type { Instant } from '../core/instant.ts';
import type { MeterTime, Wall } from '../core/meter-time.ts';
import type { Zone } from '../core/zone.ts';

/** One test, with what its stamp and its downloads say about its time. */
export interface ClockTest {
  readonly kind: 'test';
  readonly id: string;
  /** The meter's stamp; absent where the clock was not set or the stamp cannot be read. */
  readonly stamp?: MeterTime;
  /** True where the meter said that its clock was not set when the test was made. */
  readonly unset: boolean;
  /** The meter's count of power losses when the test was made, where it counts. */
  readonly lossCount?: number;
  /** The test was made before this: the end of the first download that told it. */
  readonly toldBy: Instant;
}

/** One download, standing behind the newest test that was surely made before it. */
export interface ClockReadout {
  readonly kind: 'readout';
  /** Id of the download. */
  readonly id: string;
  readonly events: readonly ClockEvent[];
  readonly lossCount?: number;
  /** What the clock shows after a power loss, where the meter said so. */
  readonly resetStamp?: Wall;
  /** Zone of the dock. */
  readonly zone: Zone;
  /** How many of the tests that follow may nevertheless have been made before it; absent: any number of them. */
  readonly mayPrecede?: number;
}

/** What is known of this kind of meter. */
export interface ClockHabits {
  /** The greatest drift to assume, parts per million, from the meter profile. */
  readonly driftPpm: number;
  /** What the clock shows after a power loss: 1 January 00:00 of any year, or one of these stamps. */
  readonly resets: 'new-year' | readonly Wall[];
}

export interface ClockHistory {
  readonly items: readonly (ClockTest | ClockReadout)[];
  readonly habits: ClockHabits;
  /** Nothing was made before this. Default: 3 years before the first download. */
  readonly inUseSince?: Instant;
  /** Zone in which stamps are read where no download shows the clock. */
  readonly zone: Zone;
}
