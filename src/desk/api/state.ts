/** What the page and its server say to each other about who is there. Types only: the page is built from them, too. */

import type { OperatorRole } from '../../store/operators.ts';

/** From the least to the most. */
export const ROLES = ['look', 'work', 'manage'] as const satisfies readonly OperatorRole[];
export type Role = OperatorRole;

/** `GET /api/state`, the only question that is answered without a sign-in. */
export interface DeskState {
  readonly version: string;
  /** Name of the clinic; absent before the first run is done. */
  readonly clinic?: string;
  /** IANA zone in which every time is shown. */
  readonly zone: string;
  /** True where no operator was ever entered: the first run leads by the hand. */
  readonly isFirstRun: boolean;
  /** Who is signed in. */
  readonly operator?: { readonly name: string; readonly role: Role };
  /** The page locks itself after so many minutes without a key or a click. */
  readonly idleMinutes: number;
}

/** Every answer that is no success. `code` is stable: the page's words for it stand in its catalogue. */
export interface DeskError {
  readonly error: { readonly code: string; readonly message: string; readonly hint: string };
}
