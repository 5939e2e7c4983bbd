/**
 * Watches for the ports of the docks to arrive and to leave, at a calm pace: often while one is absent, seldom while
 * all are there. Looking opens nothing. One look serves all docks; a look that fails leaves everything as it was.
 */
import type { SeenPort } from '../wire/transport/list-ports.ts';
import type { DockConfig } from './config.ts';
import type { DaemonHost } from './host.ts';
import { matchPort, type PortFound } from './match-ports.ts';
import type { DaemonPace } from './pace.ts';

export interface PortWatch {
  /** Looks soon, and does not trust what it knows. */
  lookSoon(): void;
  /** Resolves when no look runs any more, and none will. */
  stop(): Promise<void>;
}

/** A device that was exchanged between two looks keeps its name: after this long the full list is made in any case. */
const TRUST_MS = 60_000;
/** Several docks may ask for a look at once: one is made for all. */
const SOON_MS = 200;

/** Starts to watch. `tell` gets what was found for each dock, by its place, at first and at every change. */
export function watchPorts(
  docks: readonly DockConfig[],
  host: Pick<DaemonHost, 'now' | 'timers' | 'listPorts' | 'portNames' | 'exists'>,
  pace: Pick<DaemonPace, 'lookMs' | 'calmLookMs'>,
  tell: (place: number, found: PortFound) => void,
): PortWatch {
  const last: (PortFound | undefined)[] = docks.map(() => undefined);
  const serial = docks.filter((dock) => !dock.port?.startsWith('tcp://'));
  const names = serial.map((dock) => dock.path ?? dock.port).filter((name) => name !== undefined);
  let seen: readonly SeenPort[] = [];
  let listedAs: { readonly names: string; readonly at: number } | undefined;
  let cancel = (): void => {};
  let isStopped = false;
  let running: Promise<void> | undefined;

  /** The list, or what it was where the cheap names have not changed. */
  const list = async (): Promise<void> => {
    const now = host.now();
    const cheap = (await host.portNames().catch(() => [])).join(' ');
    const isSame = listedAs !== undefined && cheap !== '' && listedAs.names === cheap;
    if (isSame && listedAs && now - listedAs.at < TRUST_MS) return;
    seen = await host.listPorts();
    listedAs = { names: cheap, at: now };
  };

  const look = async (): Promise<void> => {
    // Where listing fails nothing new is known of serial ports; the next look tries again.
    const isListed =
      serial.length === 0 ||
      (await list().then(
        () => true,
        () => false,
      ));
    const unlisted = names.filter((name) => !seen.some((port) => port.path === name));
    const there = await Promise.all(unlisted.map(async (name) => ((await host.exists(name)) ? [name] : [])));
    const exists = new Set(there.flat());
    for (const [place, dock] of docks.entries()) {
      if (isStopped) return;
      if (!isListed && serial.includes(dock)) continue;
      const before = last[place];
      const found = matchPort(dock, seen, exists, before?.kind === 'there' ? before.port : undefined);
      last[place] = found;
      if (describe(found) !== describe(before)) tell(place, found);
    }
  };

  const schedule = (afterMs: number): void => {
    cancel();
    cancel = host.timers.after(afterMs, run);
  };
  const run = (): void => {
    if (isStopped || running) return;
    running = look().finally(() => {
      running = undefined;
      const isWanting = last.some((found) => found?.kind !== 'there');
      if (!isStopped && serial.length > 0) schedule(isWanting ? pace.lookMs : pace.calmLookMs);
    });
  };
  run();
  return {
    lookSoon() {
      listedAs = undefined;
      if (!isStopped && serial.length > 0) schedule(Math.min(SOON_MS, pace.lookMs));
    },
    async stop() {
      isStopped = true;
      cancel();
      await running;
    },
  };
}

const describe = (found: PortFound | undefined): string =>
  found === undefined ? '' : `${found.kind} ${found.kind === 'there' ? found.port : ''}`;
