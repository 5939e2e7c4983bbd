/** The daemon: docks, the watch over their ports and the one way in, wired together around one open store. */
import { meterKey } from '../core/download.ts';
import { Fault, type FaultCode } from '../core/fault.ts';
import { zoneOf } from '../core/zone.ts';
import type { ProfileLibrary } from '../intake/profile-library.ts';
import type { StoredDownload } from '../store/downloads.ts';
import type { Store } from '../store/store.ts';
import type { Config } from './config.ts';
import type { Daemon, DaemonStatus, DockTrouble, OutletStatus } from './daemon.ts';
import type { DaemonHost } from './host.ts';
import { makeIntakeQueue } from './intake-queue.ts';
import { type DaemonPace, PACE } from './pace.ts';
import { type RunningDock, runDock } from './run-dock.ts';
import { type DockState, isEmpty } from './supervisor-state.ts';
import { watchPorts } from './watch-ports.ts';

/** What is written into the log; pino's logger fits. Nothing here names a patient or an operator. */
export interface DaemonLog {
  debug(facts: object, message: string): void;
  info(facts: object, message: string): void;
  warn(facts: object, message: string): void;
  error(facts: object, message: string): void;
}

export interface DaemonOptions {
  readonly version: string;
  readonly pid: number;
  readonly dataDir: string;
  readonly config: Config;
  /** Open; the daemon does not close it. What a dead process left in it is taken in already. */
  readonly store: Store;
  readonly profiles: ProfileLibrary;
  /** The account and command, for the audit chain: `ana: serve`. */
  readonly actor: string;
  readonly host: DaemonHost;
  readonly log: DaemonLog;
  /** Why nothing may be read now, if so: too little space left. Asked before every download. */
  readonly guard?: () => Fault | undefined;
  /** Sentences of others that somebody should read, for the status. */
  readonly warnings?: () => readonly string[];
  readonly freeBytes?: () => number | undefined;
  /** Where a browser finds the desk, for the status. */
  readonly desk?: () => string | undefined;
  /** The outlets that are fed beside the docks, for the status. */
  readonly outlets?: () => readonly OutletStatus[];
  /** Other waiting times than the usual ones. */
  readonly pace?: Partial<DaemonPace>;
}

/** Changes of status that come close together are told once. */
const TELL_MS = 100;

/** Starts the daemon. Throws ZONE_UNKNOWN where the PC's own zone is needed and none. */
export function startDaemon(options: DaemonOptions): Daemon {
  const { config, store, profiles, host, log } = options;
  const pace = { ...PACE, ...options.pace };
  const startedAt = host.now();
  const zone = zoneOf(config.zone ?? new Intl.DateTimeFormat().resolvedOptions().timeZone).name;
  const listeners = new Set<(status: DaemonStatus) => void>();
  const counts = { complete: 0, cut: 0, new: 0, known: 0, bytes: 0, damagedLines: 0 };
  const troubles = new Map<FaultCode, number>();
  let cancelTelling: (() => void) | undefined;

  const intake = makeIntakeQueue({
    store,
    profiles,
    actor: options.actor,
    ...(config.clinic ? { policy: config.clinic } : {}),
    host,
    retryMs: pace.takeInMs,
    onTaken(downloads) {
      for (const download of downloads) {
        count(counts, download);
        log.info(factsOf(download), download.complete ? 'meter read' : 'meter read in part');
      }
    },
  });
  const guard = (): Fault | undefined => intake.blocked() ?? options.guard?.();

  const docks: RunningDock[] = config.docks.map((dock, place) =>
    runDock(dock, {
      store,
      profiles,
      host,
      pace,
      intake,
      zone,
      guard,
      onChange: (before, after) => onChange(place, before, after),
      say: (what, trouble) => say(dock.name, what, trouble),
      lookSoon: () => watch.lookSoon(),
    }),
  );
  const watch = watchPorts(config.docks, host, pace, (place, found) => docks[place]?.found(found));

  function say(dock: string, what: 'trouble' | 'recovered', trouble: DockTrouble): void {
    const { code, message, hint } = trouble;
    if (what === 'recovered') {
      log.info({ dock, code }, 'all is well again');
      return;
    }
    troubles.set(code, (troubles.get(code) ?? 0) + 1);
    // An empty dock is nothing to be warned of.
    if (isEmpty(code)) log.info({ dock, code, hint }, message);
    else log.warn({ dock, code, hint }, message);
  }

  function onChange(place: number, before: DockState, after: DockState): void {
    const name = config.docks[place]?.name ?? '';
    if (before.phase !== after.phase) log.debug({ dock: name, phase: after.phase, port: after.port }, 'dock');
    const [was, is] = [before.meter && meterKey(before.meter), after.meter && meterKey(after.meter)];
    if (was !== is) {
      if (after.meter) log.info({ dock: name, meter: `${after.meter.model} ${after.meter.id}` }, 'meter docked');
      const groups = twins();
      for (const [at, dock] of docks.entries()) dock.twin(groups.some((group) => group.includes(at)));
      for (const group of groups)
        if (after.meter && group.includes(place)) log.warn({ dock: name }, twinSentence(group));
    }
    if (listeners.size === 0) return;
    cancelTelling ??= host.timers.after(TELL_MS, () => {
      cancelTelling = undefined;
      const now = status();
      for (const listener of listeners) listener(now);
    });
  }

  /** The docks, by their places, whose meters say the same name: two of them share it, or one is a copy. */
  function twins(): number[][] {
    const places = new Map<string, number[]>();
    for (const [place, dock] of docks.entries()) {
      const { meter } = dock.state();
      if (meter) places.set(meterKey(meter), [...(places.get(meterKey(meter)) ?? []), place]);
    }
    return [...places.values()].filter((group) => group.length > 1);
  }

  function twinSentence(group: readonly number[]): string {
    const meter = docks[group[0] ?? 0]?.state().meter;
    const where = group.map((place) => `"${config.docks[place]?.name}"`).join(' and ');
    return `Meter ${meter?.model} ${meter?.id} is at docks ${where} at once: two meters say the same name. Both are read once; find out whose readings are whose, and give one of the meters a name of its own.`;
  }

  function status(): DaemonStatus {
    const desk = options.desk?.();
    return {
      version: options.version,
      pid: options.pid,
      startedAt,
      dataDir: options.dataDir,
      ...(desk === undefined ? {} : { desk }),
      docks: docks.map((dock) => dock.status()),
      outlets: options.outlets?.() ?? [],
      warnings: [
        ...profiles.wrong.map((fault) => fault.message),
        ...twins().map(twinSentence),
        ...(intake.blocked() ? [`Nothing is read now: ${intake.blocked()?.message}`] : []),
        ...(options.warnings?.() ?? []),
      ],
    };
  }

  let stopping: Promise<void> | undefined;
  const stopAll = async (how: 'clean' | 'now'): Promise<void> => {
    await Promise.all([watch.stop(), ...docks.map((dock) => dock.stop(how))]);
    await intake.stop();
    cancelTelling?.();
    listeners.clear();
    log.info({ how }, 'stopped');
  };
  log.info({ docks: config.docks.length, version: options.version }, 'started');
  return {
    status,
    figures() {
      const freeBytes = options.freeBytes?.();
      return {
        downloads: { complete: counts.complete, cut: counts.cut },
        readings: { new: counts.new, known: counts.known },
        bytes: counts.bytes,
        damagedLines: counts.damagedLines,
        troubles: new Map(troubles),
        ...(freeBytes === undefined ? {} : { freeBytes }),
      };
    },
    owns: (port) => docks.some((dock) => dock.owns(port)),
    async collect({ port, setClock }) {
      const dock = docks.find((candidate) => candidate.owns(port));
      if (dock && !stopping) return dock.collect(port, setClock);
      const fault = new Fault(
        'PORT_MISSING',
        `The daemon does not watch ${port}`,
        'Name a port of one of its docks; `tallydock status` shows them.',
      );
      return { port, downloads: [], fault };
    },
    watch(listener) {
      listeners.add(listener);
      return () => void listeners.delete(listener);
    },
    stop(how) {
      if (stopping && how === 'now') for (const dock of docks) void dock.stop('now');
      stopping ??= stopAll(how);
      return stopping;
    },
  };
}

function count(
  counts: Record<'complete' | 'cut' | 'new' | 'known' | 'bytes' | 'damagedLines', number>,
  d: StoredDownload,
): void {
  counts[d.complete ? 'complete' : 'cut']++;
  counts.new += d.new;
  counts.known += d.known;
  counts.bytes += d.bytes;
  counts.damagedLines += d.damagedLines;
}

const factsOf = (d: StoredDownload): object => ({
  download: d.id,
  meter: `${d.meterModel} ${d.meterId}`,
  port: d.port,
  new: d.new,
  known: d.known,
  ...(d.clockOffS === undefined ? {} : { clockOffS: d.clockOffS }),
  clockSet: d.clockSet,
});
