/** Runs one dock: does what its supervisor wants done, and tells it what came of it. */
import { asFault, Fault } from '../core/fault.ts';
import type { Collected } from '../intake/collect.ts';
import type { ProfileLibrary } from '../intake/profile-library.ts';
import type { Store } from '../store/store.ts';
import { linkSettingsOf } from '../wire/link-settings.ts';
import type { SetClock } from '../wire/talk.ts';
import { type DockConfig, isOnNetwork } from './config.ts';
import type { DockStatus, DockTrouble } from './daemon.ts';
import { holdPort } from './held-port.ts';
import type { DaemonHost } from './host.ts';
import type { IntakeQueue } from './intake-queue.ts';
import { mannersOf, type SpokenManner } from './manners.ts';
import type { PortFound } from './match-ports.ts';
import type { DaemonPace } from './pace.ts';
import { holdSession, type SessionEnd, sessionFault } from './session.ts';
import {
  type DockEffect,
  type DockInput,
  type DockState,
  newDock,
  type SupervisorRules,
  stepDock,
} from './supervisor.ts';

/** What all docks share. */
export interface DockTools {
  readonly store: Store;
  readonly profiles: ProfileLibrary;
  readonly host: DaemonHost;
  readonly pace: DaemonPace;
  readonly intake: IntakeQueue;
  /** The zone of docks that name none. */
  readonly zone: string;
  /** Why nothing may be read now, if so. */
  readonly guard: () => Fault | undefined;
  readonly onChange: (before: DockState, after: DockState) => void;
  readonly say: (what: 'trouble' | 'recovered', trouble: DockTrouble) => void;
  readonly lookSoon: () => void;
}

export interface RunningDock {
  status(): DockStatus;
  state(): DockState;
  /** True for the port's name in the config and for the port that it was found at. */
  owns(port: string): boolean;
  /** The watch over the ports has found something else than before. */
  found(what: PortFound): void;
  /** Another dock has a meter of the same name, or has it no more. */
  twin(isTwin: boolean): void;
  collect(port: string, setClock: SetClock | undefined): Promise<Collected>;
  /** Resolves when its port is closed and what was read is taken in. */
  stop(how: 'clean' | 'now'): Promise<void>;
}

/** Starts a dock; nothing happens until its port is found. */
export function runDock(config: DockConfig, tools: DockTools): RunningDock {
  const { host, pace } = tools;
  let state = newDock(host.now());
  let manners: readonly SpokenManner[] = [];
  let rules: SupervisorRules = rulesFor([{ asks: true, listens: false }]);
  let cancelTimer = (): void => {};
  let endTalk: AbortController | undefined;
  let asking: ((collected: Omit<Collected, 'port'>) => void)[] = [];
  let onStopped = (): void => {};
  const stopped = new Promise<void>((resolve) => {
    onStopped = resolve;
  });
  const held = holdPort(host.open, {
    heard: () => feed({ kind: 'heard', at: host.now() }),
    lost: (fault) => feed({ kind: 'port-lost', at: host.now(), fault }),
  });

  function rulesFor(given: SupervisorRules['manners']): SupervisorRules {
    return { pace, isNetwork: isOnNetwork(config), manners: given };
  }

  /** Inputs that come up while one is worked on wait for their turn. */
  const inbox: DockInput[] = [];
  let isFeeding = false;
  function feed(input: DockInput): void {
    inbox.push(input);
    if (isFeeding) return;
    isFeeding = true;
    try {
      for (let next = inbox.shift(); next; next = inbox.shift()) {
        const before = state;
        const step = stepDock(rules, state, next);
        state = step.state;
        for (const effect of step.effects) perform(effect);
        if (before !== state) tools.onChange(before, state);
      }
    } finally {
      isFeeding = false;
    }
  }

  function perform(effect: DockEffect): void {
    switch (effect.kind) {
      case 'open':
        void openPort(effect.port, effect.manner);
        break;
      case 'close':
        void held.close();
        break;
      case 'talk':
        void talk(effect);
        break;
      case 'end-talk':
        endTalk?.abort();
        break;
      case 'timer':
        cancelTimer();
        if (state.activity.kind === 'resting') held.forget(); // what comes from here on ends the rest
        cancelTimer = host.timers.after(effect.afterMs, () => feed({ kind: 'timer', at: host.now() }));
        break;
      case 'timer-off':
        cancelTimer();
        break;
      case 'look':
        tools.lookSoon();
        break;
      case 'say':
        tools.say(effect.what, effect.trouble);
        break;
      case 'answer': {
        const { downloads, fault } = effect;
        for (const tell of asking) tell({ downloads, ...(fault ? { fault } : {}) });
        asking = [];
        break;
      }
      case 'stopped':
        onStopped();
        break;
    }
  }

  async function openPort(port: string, place: number): Promise<void> {
    try {
      const manner = manners[place];
      if (!manner) throw new Fault('INTERNAL', `Dock ${config.name} has no way to open ${port}`, 'Please report this.');
      await held.close();
      await held.open(port, linkSettingsOf(manner.profile, manner.baud));
      feed({ kind: 'opened', at: host.now() });
    } catch (thrown) {
      feed({ kind: 'open-failed', at: host.now(), fault: asFault(thrown) });
    }
  }

  async function talk(wanted: Extract<DockEffect, { kind: 'talk' }>): Promise<void> {
    const port = state.port ?? '';
    const stop = new AbortController();
    endTalk = stop;
    let end: SessionEnd;
    const profile = manners[wanted.manner]?.profile;
    if (profile) {
      end = await holdSession(
        {
          port,
          profile,
          zone: config.zone ?? tools.zone,
          setClock: wanted.setClock ?? config.setClock,
          purpose: wanted.purpose,
          meter: wanted.meter,
          held: wanted.held,
          waitMs: config.waitMs,
          listenMs: manners.length > 1 && !state.isProven ? pace.probeMs : pace.listenMs,
        },
        {
          ...tools,
          open: held.lend,
          onProgress: (progress) => feed({ kind: 'progress', at: host.now(), progress }),
          signal: stop.signal,
        },
      );
    } else end = { fault: new Fault('INTERNAL', 'No profile', 'Please report this.'), closedAt: host.now() };
    feed({ kind: 'talk-ended', at: host.now() });
    const taken = end.recorder ? await tools.intake.take(end.recorder, end.closedAt) : { downloads: [] };
    const fault = taken.fault ?? sessionFault(port, end, taken.downloads);
    feed({
      kind: 'taken-in',
      at: host.now(),
      downloads: taken.downloads,
      isOpen: held.isOpen,
      ...(fault ? { fault } : {}),
    });
  }

  return {
    state: () => state,
    status: () => statusOf(config, state),
    owns: (port) => port === state.port || port === config.port || port === config.path,
    found(what) {
      const at = host.now();
      if (what.kind === 'absent') return feed({ kind: 'port-gone', at });
      if (what.kind === 'unclear') return feed({ kind: 'port-gone', at, why: unclear(config, what.ports) });
      try {
        const next = mannersOf(config, tools.profiles, what.seen);
        manners = next;
        rules = rulesFor(next);
        feed({ kind: 'port-seen', at, port: what.port });
      } catch (thrown) {
        feed({ kind: 'port-gone', at, why: asFault(thrown) });
      }
    },
    twin: (isTwin) => feed({ kind: 'twin', at: host.now(), isTwin }),
    async collect(port, setClock) {
      const answered = new Promise<Omit<Collected, 'port'>>((resolve) => {
        asking.push(resolve);
      });
      feed({ kind: 'collect-asked', at: host.now(), setClock });
      return { port, ...(await answered) };
    },
    stop(how) {
      feed({ kind: 'stop', at: host.now(), how });
      return stopped;
    },
  };
}

const unclear = (config: DockConfig, ports: readonly string[]): Fault =>
  new Fault(
    'CONFIG_INVALID',
    `${ports.length} ports fit dock "${config.name}": ${ports.join(', ')}`,
    'Give this dock a path in config.toml in place of the serial number, which is not its own.',
  );

function statusOf(config: DockConfig, state: DockState): DockStatus {
  const { port, phase, since, meter, read, held, lastDownload, trouble, nextTryAt } = state;
  const isReading = phase === 'reading' || phase === 'storing' || phase === 'setting';
  return {
    name: config.name,
    phase,
    since,
    ...(port === undefined ? {} : { port }),
    ...(meter ? { meter } : {}),
    ...(isReading && read !== undefined ? { read } : {}),
    ...(isReading && held !== undefined ? { held } : {}),
    ...(lastDownload ? { lastDownload: lastDownload.id, lastDownloadAt: lastDownload.until } : {}),
    ...(trouble ? { trouble } : {}),
    ...(nextTryAt === undefined ? {} : { nextTryAt }),
  };
}
