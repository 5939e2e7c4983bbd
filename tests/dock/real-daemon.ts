/** A daemon on real ports for tests: a store of its own, waiting times of tenths of seconds, and ways to wait for it. */
import { onTestFinished } from 'vitest';
import { type DockConfig, parseConfig } from '../../src/dock/config.ts';
import type { Daemon, DaemonStatus, DockStatus } from '../../src/dock/daemon.ts';
import { type DaemonHost, realHost } from '../../src/dock/host.ts';
import type { DaemonPace } from '../../src/dock/pace.ts';
import { type DaemonOptions, startDaemon } from '../../src/dock/start-daemon.ts';
import { loadProfiles } from '../../src/intake/profile-library.ts';
import type { Store } from '../../src/store/store.ts';
import { tempStore } from '../store/temp-store.ts';
import { keptLog, type Logged } from './made-up.ts';

/** Quick, so that a test with real ports does not last. */
export const QUICK: Partial<DaemonPace> = {
  lookMs: 50,
  calmLookMs: 50,
  restMs: 50,
  restCeilingMs: 400,
  emptyCeilingMs: 200,
  helloMs: 300,
  listenMs: 500,
  takeInMs: 50,
};

export interface RealDaemon {
  readonly daemon: Daemon;
  readonly store: Store;
  readonly log: readonly Logged[];
  /** Resolves with the dock's status as soon as `holds` is true of it. */
  until(dock: string, holds: (status: DockStatus) => boolean): Promise<DockStatus>;
  /** Resolves as soon as `holds` is true of the status. */
  untilStatus(holds: (status: DaemonStatus) => boolean): Promise<DaemonStatus>;
}

/** Starts a daemon; it is stopped when the running test ends. */
export function realDaemon(docks: readonly DockConfig[], over: Partial<DaemonOptions> = {}): RealDaemon {
  const store = over.store ?? tempStore();
  const { log, logger } = keptLog();
  // Ports of the machine that runs the test are nobody's business.
  const host: DaemonHost = { ...realHost, listPorts: async () => [], portsMark: async () => undefined };
  const daemon = startDaemon({
    version: '0',
    pid: process.pid,
    dataDir: '',
    config: { ...parseConfig('zone = "Europe/Lisbon"', 'config.toml'), docks: [...docks] },
    store,
    profiles: loadProfiles(''),
    actor: 'test: serve',
    host,
    log: logger,
    pace: QUICK,
    ...over,
  });
  onTestFinished(() => daemon.stop('now'));
  const untilStatus = (holds: (status: DaemonStatus) => boolean): Promise<DaemonStatus> =>
    new Promise((resolve, reject) => {
      const looks = (status: DaemonStatus): void => {
        if (!holds(status)) return;
        leave();
        clearTimeout(late);
        resolve(status);
      };
      const leave = daemon.watch(looks);
      const late = setTimeout(() => {
        leave();
        reject(new Error(`this did not happen; now: ${JSON.stringify(daemon.status().docks)}`));
      }, 20_000);
      looks(daemon.status());
    });
  return {
    daemon,
    store,
    log,
    untilStatus,
    async until(name, holds) {
      const status = await untilStatus(({ docks: all }) => all.some((dock) => dock.name === name && holds(dock)));
      const found = status.docks.find((dock) => dock.name === name);
      if (!found) throw new Error(`there is no dock ${name}`);
      return found;
    },
  };
}
