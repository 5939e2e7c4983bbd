/**
 * An explanation as a list of steps through the known and the told, both from the oldest on. Every known item and
 * every told item is taken by exactly one step.
 */
import type { ImageItem } from '../core/download.ts';
import type { ClockEvidence } from './last-clock.ts';
import type { Sighting } from './same.ts';
import type { Standing } from './standing.ts';

export type Step =
  /** The told test is this claimant of the known place. */
  | { readonly kind: 'match'; readonly known: number; readonly claimant: number; readonly told: number }
  /** The told test claims the known place with other content. */
  | { readonly kind: 'conflict'; readonly known: number; readonly told: number }
  /** The told test was not known. `repeat`: it may nevertheless be a known test told again. */
  | { readonly kind: 'new'; readonly told: number; readonly repeat: boolean }
  /** The known place would have been told if it were still there. */
  | { readonly kind: 'missing'; readonly known: number }
  /** The known item lies under a hole of the image. */
  | { readonly kind: 'untold'; readonly known: number }
  /** The gap was told over: nothing sits in it any more. */
  | { readonly kind: 'close'; readonly known: number }
  /** The hole ends. `open`: tests that were never told may sit in it. */
  | { readonly kind: 'hole'; readonly told: number; readonly open: boolean };

export interface Explanation {
  readonly steps: readonly Step[];
  /** Another explanation is as good, by which a test counted as new here would be known. */
  readonly doubtful: boolean;
  /** What it costs, by costs.ts. */
  readonly cost: number;
}

/** What an explanation has to explain. */
export interface Question {
  readonly known: readonly Standing[];
  readonly told: readonly ImageItem[];
  /** The told test at an index with its ring slot, or undefined for a hole. */
  readonly sightings: readonly (Sighting | undefined)[];
  /** True where the image was read by a protocol whose checksum is weak. */
  readonly weak: boolean;
  /** How many of the oldest places can have been overwritten; absent where nobody knows how many the memory holds. */
  readonly overwritable?: number;
  /** Highest running number before this download. */
  readonly highestRun?: number;
  /** What the meter's clock says about which tests can be new. */
  readonly clock: ClockEvidence;
}
