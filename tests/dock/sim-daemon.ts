/** A daemon in simulated time, on ports that do not exist, with a store that does. */
import { instant } from '../../src/core/instant.ts';
import { type DockConfig, parseConfig } from '../../src/dock/config.ts';
import type { Daemon, DockStatus } from '../../src/dock/daemon.ts';
import { type DaemonOptions, startDaemon } from '../../src/dock/start-daemon.ts';
import { loadProfiles } from '../../src/intake/profile-library.ts';
import type { Store } from '../../src/store/store.ts';
import type { Timers } from '../../src/wire/timers.ts';
import { keptLog, type Logged } from './made-up.ts';
import { SIM_START, type SimPorts, simPorts } from './sim-ports.ts';
import { type SimTime, simTime } from './sim-time.ts';

export interface SimDaemon {
  readonly daemon: Daemon;
  readonly store: Store;
  readonly time: SimTime;
  readonly ports: SimPorts;
  readonly log: readonly Logged[];
  /** Times that the ports were listed. */
  listings(): number;
  /** Timers of the daemon that are set and will run. */
  timers(): number;
  dock(name: string): DockStatus;
  pass(ms: number): Promise<void>;
  until(dock: string, holds: (status: DockStatus) => boolean, withinMs?: number): Promise<DockStatus>;
}

export interface SimOptions extends Partial<Pick<DaemonOptions, 'guard'>> {
  readonly store: Store;
  /** The world before the daemon starts. */
  readonly world?: { readonly time: SimTime; readonly ports: SimPorts };
}

/** A world without ports. */
export function simWorld(): { readonly time: SimTime; readonly ports: SimPorts } {
  const time = simTime(SIM_START);
  return { time, ports: simPorts(time) };
}

/** Starts a daemon on these docks. */
export function simDaemon(docks: readonly DockConfig[], options: SimOptions): SimDaemon {
  const { time, ports } = options.world ?? simWorld();
  const { store } = options;
  const { log, logger } = keptLog();
  let listings = 0;
  let timers = 0;
  /** The same time, with a count of the daemon's own timers. */
  const counted: Timers = {
    after(ms, run) {
      timers++;
      let isOver = false;
      const over = (): void => {
        if (!isOver) timers--;
        isOver = true;
      };
      const cancel = time.timers.after(ms, () => {
        over();
        run();
      });
      return () => {
        over();
        cancel();
      };
    },
  };
  const daemon = startDaemon({
    version: '0',
    pid: 1,
    dataDir: '',
    config: { ...parseConfig('zone = "UTC"', 'config.toml'), docks: [...docks] },
    store,
    profiles: loadProfiles(''),
    actor: 'test: serve',
    host: {
      now: time.now,
      timers: counted,
      open: ports.open,
      async listPorts() {
        listings++;
        return ports.list();
      },
      portsMark: async () =>
        ports
          .list()
          .map((port) => port.path)
          .join(),
      exists: async () => false,
    },
    log: logger,
    ...(options.guard ? { guard: options.guard } : {}),
  });
  const dock = (name: string): DockStatus => {
    const found = daemon.status().docks.find((status) => status.name === name);
    if (!found) throw new Error(`there is no dock ${name}`);
    return found;
  };
  return {
    daemon,
    store,
    time,
    ports,
    log,
    listings: () => listings,
    timers: () => timers,
    dock,
    pass: (ms) => time.runUntil(instant(time.now() + ms)),
    async until(name, holds, withinMs = 600_000) {
      await time
        .runUntilTrue(() => holds(dock(name)), withinMs)
        .catch((thrown: unknown) => {
          throw new Error(`${String(thrown)}; now: ${JSON.stringify(dock(name))}`);
        });
      return dock(name);
    },
  };
}

/** Stops a daemon in simulated time: the clock must run on meanwhile. */
export async function stopSim(
  { daemon, time }: Pick<SimDaemon, 'daemon' | 'time'>,
  how: 'clean' | 'now',
): Promise<void> {
  let isOver = false;
  const stopping = daemon.stop(how).then(() => {
    isOver = true;
  });
  await time.runUntilTrue(() => isOver, 60_000);
  await stopping;
}
