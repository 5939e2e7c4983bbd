/** A daemon whose docks can be changed while it runs: it is stopped cleanly inside and started anew; whoever watches it goes on watching. */
import type { Config } from './config.ts';
import type { Daemon, DaemonStatus } from './daemon.ts';

export interface ReloadableDaemon extends Daemon {
  /** Watches the docks of these settings from now on. A download that is under way is kept as incomplete. */
  reload(config: Config): Promise<void>;
}

/** Starts one by `start`; what it counted since its start is counted afresh after each reload. */
export function reloadableDaemon(start: (config: Config) => Daemon, config: Config): ReloadableDaemon {
  const listeners = new Set<(status: DaemonStatus) => void>();
  const tell = (status: DaemonStatus): void => {
    for (const listener of listeners) listener(status);
  };
  let inner = start(config);
  let unwatch = inner.watch(tell);
  let isStopped = false;
  let turn: Promise<void> = Promise.resolve();
  const reload = async (next: Config): Promise<void> => {
    if (isStopped) return;
    unwatch();
    await inner.stop('clean');
    if (isStopped) return;
    inner = start(next);
    unwatch = inner.watch(tell);
    tell(inner.status());
  };
  return {
    status: () => inner.status(),
    figures: () => inner.figures(),
    owns: (port) => inner.owns(port),
    collect: (call) => inner.collect(call),
    watch(listener) {
      listeners.add(listener);
      return () => listeners.delete(listener);
    },
    stop(how) {
      isStopped = true;
      return inner.stop(how);
    },
    reload(next) {
      // One that failed was told to whoever asked for it, and does not keep the next from being tried.
      turn = turn.catch(() => undefined).then(() => reload(next));
      return turn;
    },
  };
}
