/** What the daemon needs of the machine: time, timers and ports. Handed in, so that a test can be the machine. */
import { access } from 'node:fs/promises';
import { type Instant, instant } from '../core/instant.ts';
import { realTimers, type Timers } from '../wire/timers.ts';
import type { OpenLink } from '../wire/transport/link.ts';
import { listPorts, portsMark, type SeenPort } from '../wire/transport/list-ports.ts';
import { openLink } from '../wire/transport/open-link.ts';

export interface DaemonHost {
  /** True time. */
  now(): Instant;
  /** A clock that nobody can set, milliseconds since any fixed moment; absent where time is only simulated. */
  readonly monotonicMs?: () => number;
  readonly timers: Timers;
  readonly open: OpenLink;
  /** The serial ports with what tells them apart. Opens nothing. */
  listPorts(): Promise<readonly SeenPort[]>;
  /** A text that changes when a serial port comes, goes or is made anew; undefined where there is no cheap way to know. */
  portsMark(): Promise<string | undefined>;
  /** True where a device of this name is there, listed or not. */
  exists(name: string): Promise<boolean>;
}

/** This machine. */
export const realHost: DaemonHost = {
  now: () => instant(Date.now()),
  monotonicMs: () => performance.now(),
  timers: realTimers,
  open: openLink,
  listPorts: () => listPorts(),
  portsMark: () => portsMark(),
  exists: (name) =>
    access(name).then(
      () => true,
      () => false,
    ),
};
