/**
 * A reading as outlets are handed it: all that a record elsewhere needs to know, at one version. A version is new whenever
 * something has changed that such a record rests on; `record/told.ts` lists it. What only describes (name and year of
 * birth, the meter's firmware, the sentence of a placement) stands here as it was last known.
 */
import type { MeterIdentity } from './download.ts';
import type { Instant } from './instant.ts';
import type { Placement } from './placement.ts';
import type { DownloadId, ReadingId, ReadingKind, Value } from './reading.ts';

/** What a reader may do with a reading. Only `settled` and `provisional` readings are clear to go on. */
export type ShownStatus = 'settled' | 'provisional' | 'held' | 'void';

/** Whether a reading is clear to go on and to be counted. */
export const isClear = (status: ShownStatus): boolean => status === 'settled' || status === 'provisional';

/** How it is known whose a reading is: the meter was lent to the person; keyed into the meter with a right check digit; said by an operator here. */
export type PersonBasis = 'lent' | 'keyed' | 'confirmed';

/** Where a value stands against the person's target and the clinic's critical limits. */
export type Standing = 'critical-low' | 'below' | 'in' | 'above' | 'critical-high' | 'no-target';

/** Analytes that a person's target range is for. Beside any other value it would be told of what it does not mean. */
export const TARGETED: readonly string[] = ['INR'];

/** The person as an outlet may need them. */
export interface OutgoingPatient {
  /** The clinic's own id. */
  readonly id: string;
  readonly name?: string;
  readonly birthYear?: number;
}

export interface OutgoingReading {
  readonly id: ReadingId;
  /** From 1. */
  readonly version: number;
  readonly status: ShownStatus;
  /** Why it waits, as stable words; empty unless held. */
  readonly holds: readonly string[];
  readonly kind: ReadingKind;
  readonly meter: MeterIdentity;
  /** Absent for control tests, and where it is not known whose it is. */
  readonly patient?: OutgoingPatient;
  readonly personBasis?: PersonBasis;
  /** One to four; none for an error test. */
  readonly values: readonly Value[];
  readonly errorCode?: string;
  /** The target in force at its time, limits inclusive, as written; absent where it measured nothing that targets are for. */
  readonly target?: { readonly low: string; readonly high: string };
  /** Of the value that the target is for. */
  readonly standing?: Standing;
  readonly placement?: Placement;
  /** IANA zone of the dock. */
  readonly zone: string;
  /** The meter's own stamp exactly as given; empty where its clock was not set. */
  readonly meterTime: string;
  /** The meter's clock beside the gateway's in the download that told it first; absent where the meter did not tell it. */
  readonly clock?: { readonly gatewayAt: Instant; readonly meterOffS: number };
  readonly lot?: string;
  readonly lotExpiry?: string;
  readonly operator?: string;
  /** The meter's flags and the gateway's. */
  readonly flags: readonly string[];
  readonly slot?: number;
  readonly runNumber?: number;
  readonly firstDownload: DownloadId;
  readonly downloadedAt: Instant;
  /** A control test's material, where it is known. */
  readonly control?: { readonly lot: string; readonly level: string; readonly kind: 'liquid' | 'electronic' };
}
