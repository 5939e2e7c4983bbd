/**
 * What the daemon shows to the inside: the control channel, the desk and tests see a running daemon only through this.
 */

import type { MeterIdentity } from '../core/download.ts';
import type { FaultCode } from '../core/fault.ts';
import type { Instant } from '../core/instant.ts';
import type { DownloadId } from '../core/reading.ts';
import type { Collected } from '../intake/collect.ts';
import type { SetClock } from '../wire/talk.ts';

/**
 * What a dock does. absent: its port is not there; opening; identifying: asking who is there; reading the memory;
 * storing; setting the clock; docked: all is safe, results that are made now are taken at once; resting after trouble.
 */
export type DockPhase = 'absent' | 'opening' | 'identifying' | 'reading' | 'storing' | 'setting' | 'docked' | 'resting';

/** Trouble at a dock, with what to do. */
export interface DockTrouble {
  readonly code: FaultCode;
  readonly message: string;
  readonly hint: string;
  readonly at: Instant;
}

export interface DockStatus {
  /** As the configuration names it. */
  readonly name: string;
  /** The port that it was found at; absent while it is not there. */
  readonly port?: string;
  readonly phase: DockPhase;
  /** Since when it is in this phase. */
  readonly since: Instant;
  readonly meter?: MeterIdentity;
  /** While reading: results read so far, and held. */
  readonly read?: number;
  readonly held?: number;
  readonly lastDownload?: DownloadId;
  readonly lastDownloadAt?: Instant;
  /** The last trouble; cleared by the next success. */
  readonly trouble?: DockTrouble;
  /** When it will be tried again, while resting. */
  readonly nextTryAt?: Instant;
}

/** An outlet as the daemon feeds it. */
export interface OutletStatus {
  /** As people call it. */
  readonly name: string;
  readonly kind: string;
  readonly state: 'running' | 'paused';
  /** Changes that it has not been told of yet; some may turn out to be nothing for it. */
  readonly waiting: number;
  /** When the oldest of them came about. */
  readonly oldestAt?: Instant;
  /** Readings that its receiver refused. */
  readonly setAside: number;
  /** When it last took something. */
  readonly sentAt?: Instant;
  /** Why it cannot be reached, and since when; cleared by the next success. */
  readonly trouble?: DockTrouble;
  /** When it will be tried again, while it cannot be reached. */
  readonly nextTryAt?: Instant;
}

export interface DaemonStatus {
  readonly version: string;
  readonly pid: number;
  readonly startedAt: Instant;
  readonly dataDir: string;
  /** Where a browser finds the desk; absent where it is not served. */
  readonly desk?: string;
  readonly docks: readonly DockStatus[];
  readonly outlets: readonly OutletStatus[];
  /** Sentences that somebody should read: little space left, the PC's clock is off, a profile file is wrong. */
  readonly warnings: readonly string[];
}

/** Counters since the start, for the figures of the control channel. */
export interface DaemonFigures {
  readonly downloads: { readonly complete: number; readonly cut: number };
  readonly readings: { readonly new: number; readonly known: number };
  readonly bytes: number;
  readonly damagedLines: number;
  readonly troubles: ReadonlyMap<FaultCode, number>;
  readonly freeBytes?: number;
}

/** A collect that somebody asks a running daemon for, because it owns the port. */
export interface CollectCallToDaemon {
  readonly port: string;
  readonly setClock?: SetClock;
}

/** A running daemon. */
export interface Daemon {
  status(): DaemonStatus;
  figures(): DaemonFigures;
  /** True where the daemon watches this port. */
  owns(port: string): boolean;
  /** Reads the meter at a port of the daemon's once more, now. Never rejects: a fault is part of the answer. */
  collect(call: CollectCallToDaemon): Promise<Collected>;
  /** Calls back at every change of status until the returned function is called. */
  watch(listener: (status: DaemonStatus) => void): () => void;
  /** Stops: `clean` keeps downloads in progress as incomplete and leaves the meters politely; `now` closes at once. */
  stop(how: 'clean' | 'now'): Promise<void>;
}
