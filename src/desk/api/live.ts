/** What the server tells a page by itself (`GET /api/live`, server-sent events). Types only. */

import type { ReadingKind } from '../../core/reading.ts';
import type { DockPhase } from '../../dock/daemon.ts';

/** Somebody as the desk names them. */
export interface PersonName {
  readonly id: string;
  readonly name?: string;
}

/** One place of a tally. */
export interface TallyPlace {
  readonly kind: ReadingKind;
  readonly isNew: boolean;
}

/** What the last download at a dock came to. */
export interface LastDownload {
  readonly id: string;
  readonly at: number;
  readonly meterId: string;
  /** Who has the meter. */
  readonly person?: PersonName;
  readonly new: number;
  readonly known: number;
  readonly complete: boolean;
  /** The memory in its order, oldest first. */
  readonly tally: readonly TallyPlace[];
  /** Tests that the meter holds and that were not read. */
  readonly open: number;
  /** The memory is full: older tests were overwritten. */
  readonly isTorn: boolean;
  /** Meter minus true local time in seconds; absent where its clock was not told. */
  readonly clockOffS?: number;
  readonly clockSet: boolean;
  /** Readings of it that wait. */
  readonly waiting: number;
}

/** One dock. Times are milliseconds since 1970 UTC. */
export interface DeskDock {
  readonly name: string;
  readonly phase: DockPhase;
  readonly since: number;
  readonly meter?: { readonly id: string; readonly model: string };
  /** Who has the meter that is on it. */
  readonly person?: PersonName;
  /** While reading. */
  readonly read?: number;
  readonly held?: number;
  readonly last?: LastDownload;
  readonly trouble?: { readonly code: string; readonly message: string; readonly hint: string; readonly at: number };
  readonly nextTryAt?: number;
}

/** An outlet in short. */
export interface DeskOutlet {
  readonly name: string;
  readonly kind: string;
  readonly state: 'running' | 'paused';
  readonly waiting: number;
  readonly oldestAt?: number;
  readonly setAside: number;
  readonly sentAt?: number;
  readonly trouble?: { readonly code: string; readonly message: string; readonly hint: string; readonly at: number };
  readonly nextTryAt?: number;
}

/** Event `status`: at once, and after every change at a dock. Also the answer to `GET /api/dock`. */
export interface DeskStatus {
  readonly now: number;
  readonly docks: readonly DeskDock[];
  readonly outlets: readonly DeskOutlet[];
  /** Readings that wait. */
  readonly waiting: number;
  /** Sentences of the daemon that somebody should read: little room, the PC's clock. */
  readonly warnings: readonly string[];
}

/** Event `changed`: something in the store is new; the page asks again for what it shows. `n` grows. */
export interface DeskChanged {
  readonly n: number;
}
