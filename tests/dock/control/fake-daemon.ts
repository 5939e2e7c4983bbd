/** A daemon without ports, for tests of what speaks for a daemon: it shows what it is told to show. */
import { instant } from '../../../src/core/instant.ts';
import type { Daemon, DaemonFigures, DaemonStatus } from '../../../src/dock/daemon.ts';
import type { Collected } from '../../../src/intake/collect.ts';

export interface FakeDaemon extends Daemon {
  /** Changes the status and tells the watchers. */
  show(status: DaemonStatus): void;
  /** How many watch it. */
  watchers(): number;
  readonly calls: unknown[];
}

const AT = instant(Date.UTC(2026, 2, 2, 10, 15));

/** One dock at rest after trouble and one that reads; everything that a status can hold is in it. */
export const STATUS: DaemonStatus = {
  version: '0.1.0',
  pid: 4711,
  startedAt: AT,
  dataDir: '/var/lib/tallydock',
  docks: [
    {
      name: 'front desk',
      port: '/dev/ttyUSB0',
      phase: 'reading',
      since: instant(AT + 60_000),
      meter: { id: 'PA-C001', model: 'GM-10', firmware: '1.4' },
      read: 12,
      held: 60,
    },
    {
      name: 'room 2',
      phase: 'resting',
      since: instant(AT + 120_000),
      trouble: {
        code: 'PORT_DENIED',
        message: 'Not allowed to open port /dev/ttyUSB1',
        hint: 'Let this user use serial ports (on Linux: the group dialout), then sign in again.',
        at: instant(AT + 120_000),
      },
      nextTryAt: instant(AT + 180_000),
    },
    {
      name: 'lent meters',
      phase: 'absent',
      since: AT,
      lastDownload: 'D17' as never,
      lastDownloadAt: instant(AT - 3_600_000),
    },
  ],
  outlets: [
    {
      name: 'head office',
      kind: 'postgres',
      state: 'running',
      waiting: 12,
      oldestAt: instant(AT - 60_000),
      setAside: 0,
      sentAt: instant(AT - 120_000),
    },
    { name: 'research', kind: 'csv', state: 'paused', waiting: 0, setAside: 0 },
  ],
  warnings: ['Little room is left on the disk: 512 MB.'],
};

export const FIGURES: DaemonFigures = {
  downloads: { complete: 40, cut: 2 },
  readings: { new: 311, known: 7_702 },
  bytes: 1_234_567,
  damagedLines: 3,
  troubles: new Map([
    ['PORT_DENIED', 5],
    ['DOWNLOAD_CUT', 2],
  ]),
  freeBytes: 512_000_000,
};

/** The daemon; `collected` is what every collect comes to. */
export function fakeDaemon(collected?: Promise<Collected>): FakeDaemon {
  let status = STATUS;
  const listeners = new Set<(status: DaemonStatus) => void>();
  const calls: unknown[] = [];
  return {
    status: () => status,
    figures: () => FIGURES,
    owns: (port) => status.docks.some((dock) => dock.port === port),
    collect(call) {
      calls.push(call);
      return collected ?? Promise.resolve({ port: call.port, downloads: [] });
    },
    watch(listener) {
      listeners.add(listener);
      return () => listeners.delete(listener);
    },
    async stop(how) {
      calls.push(how);
    },
    show(next) {
      status = next;
      for (const listener of listeners) listener(next);
    },
    watchers: () => listeners.size,
    calls,
  };
}
