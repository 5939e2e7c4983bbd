/** What a supervisor of one port knows, hears and wants done. Plain immutable data. */
import type { MeterIdentity } from '../core/download.ts';
import type { Fault, FaultCode } from '../core/fault.ts';
import type { Instant } from '../core/instant.ts';
import type { StoredDownload } from '../store/downloads.ts';
import type { SetClock, TalkProgress } from '../wire/talk.ts';
import type { DockPhase, DockTrouble } from './daemon.ts';
import type { DaemonPace } from './pace.ts';

/** How a meter of one protocol wants to be met. */
export interface Manner {
  /** It answers when it is asked; else it only sends by itself. */
  readonly asks: boolean;
  /** It may send by itself at any time, and its silence means nothing. */
  readonly listens: boolean;
}

export interface SupervisorRules {
  readonly pace: DaemonPace;
  /** A device server: one that nobody answers behind is connected to afresh, because a vanished peer is silent too. */
  readonly isNetwork: boolean;
  /** Ways in which the meter may speak; more than one only where they are to be detected. */
  readonly manners: readonly [Manner, ...Manner[]];
}

/** `read`: ask for the whole memory. `watch`: wait for something new, of a meter that was read or that sends by itself. */
export type Purpose = 'read' | 'watch';

/** What a dock is at. */
export type Activity =
  | { readonly kind: 'absent' }
  | { readonly kind: 'opening' }
  | { readonly kind: 'talking'; readonly purpose: Purpose }
  /** The conversation has ended and is being taken in. */
  | { readonly kind: 'storing'; readonly purpose: Purpose }
  | { readonly kind: 'resting' }
  | { readonly kind: 'stopped' };

export interface DockState {
  readonly activity: Activity;
  readonly phase: DockPhase;
  readonly since: Instant;
  /** The port while it is there. */
  readonly port?: string | undefined;
  /** The port is open, by what we know. */
  readonly isOpen: boolean;
  /** Which of the rules' manners is tried or used. */
  readonly manner: number;
  /** A meter has named itself in this manner: no other is tried. */
  readonly isProven: boolean;
  readonly meter?: MeterIdentity | undefined;
  readonly held?: number | undefined;
  readonly read?: number | undefined;
  readonly lastDownload?: StoredDownload | undefined;
  readonly readAt?: Instant | undefined;
  readonly trouble?: DockTrouble | undefined;
  /** Failures of the last kind in a row. */
  readonly failures: number;
  readonly nextTryAt?: Instant | undefined;
  /** Somebody waits for a download that begins from now on. */
  readonly isAsked: boolean;
  readonly setClock?: SetClock | undefined;
  /** Two meters say the same name: reading them in turn would mix them up more. */
  readonly isTwin: boolean;
  readonly isStopping: boolean;
}

/** What a dock hears; `at` is true time. */
export type DockInput = { readonly at: Instant } & (
  | { readonly kind: 'port-seen'; readonly port: string }
  /** `why` is there where it is more than absence: two ports fit this dock. */
  | { readonly kind: 'port-gone'; readonly why?: Fault }
  | { readonly kind: 'opened' }
  | { readonly kind: 'open-failed'; readonly fault: Fault }
  | { readonly kind: 'progress'; readonly progress: TalkProgress }
  /** The conversation is over. */
  | { readonly kind: 'talk-ended' }
  /** What it led to is in the store. `fault`: why not all was read, or why nothing could be stored. */
  | {
      readonly kind: 'taken-in';
      readonly downloads: readonly StoredDownload[];
      readonly fault?: Fault | undefined;
      /** The port is still open. */
      readonly isOpen: boolean;
    }
  /** The open port went away while no conversation ran. */
  | { readonly kind: 'port-lost'; readonly fault: Fault }
  /** Bytes came while no conversation ran. */
  | { readonly kind: 'heard' }
  | { readonly kind: 'timer' }
  /** Another dock has a meter of the same name, or has it no more. */
  | { readonly kind: 'twin'; readonly isTwin: boolean }
  | { readonly kind: 'collect-asked'; readonly setClock?: SetClock | undefined }
  | { readonly kind: 'stop'; readonly how: 'clean' | 'now' }
);

/** What a dock wants done, in this order. */
export type DockEffect =
  | { readonly kind: 'open'; readonly port: string; readonly manner: number }
  | { readonly kind: 'close' }
  | {
      readonly kind: 'talk';
      readonly purpose: Purpose;
      readonly manner: number;
      /** The meter to watch, and what it held. */
      readonly meter?: MeterIdentity | undefined;
      readonly held?: number | undefined;
      readonly setClock?: SetClock | undefined;
    }
  /** Lets the running conversation leave politely. */
  | { readonly kind: 'end-talk' }
  | { readonly kind: 'timer'; readonly afterMs: number }
  | { readonly kind: 'timer-off' }
  /** Look at the ports soon: something has changed. */
  | { readonly kind: 'look' }
  /** Worth a line in the log: the first failure, each change of reason, and the recovery. */
  | { readonly kind: 'say'; readonly what: 'trouble' | 'recovered'; readonly trouble: DockTrouble }
  /** The answer to whoever asked for a download. */
  | { readonly kind: 'answer'; readonly downloads: readonly StoredDownload[]; readonly fault?: Fault | undefined }
  | { readonly kind: 'stopped' };

/** A fault as a dock shows it. */
export const troubleOf = (fault: Fault, at: Instant): DockTrouble => ({
  code: fault.code,
  message: fault.message,
  hint: fault.hint,
  at,
});

/** Trouble that means no more than an empty dock. */
export const isEmpty = (code: FaultCode): boolean => code === 'METER_SILENT' || code === 'PORT_MISSING';
