/**
 * Watches for the ports of the docks to arrive and to leave, at a calm pace: often while one is absent, seldom while
 * all are there. Looking opens nothing. One look serves all docks; a look that fails leaves everything as it was.
 */
import type { Instant } from '../core/instant.ts';
import type { SeenPort } from '../wire/transport/list-ports.ts';
import { type DockConfig, isOnNetwork } from './config.ts';
import type { DaemonHost } from './host.ts';
import { matchPort, type PortFound } from './match-ports.ts';
import type { DaemonPace } from './pace.ts';

export interface PortWatch {
  /** Looks soon, and does not trust what it knows. */
  lookSoon(): void;
  /** Resolves when no look runs any more, and none will. */
  stop(): Promise<void>;
}

/**
 * A port shows its name some moments before the system knows its serial number: a list is trusted only if it was made
 * this long after the last change.
 */
const SETTLED_MS = 10_000;
/** After this long the list is made afresh in any case. */
export const TRUST_MS = 300_000;
/** Several docks may ask for a look at once: one is made for all. */
const SOON_MS = 200;

/** Starts to watch. `tell` gets what was found for each dock, by its place, at first and at every change. */
export function watchPorts(
  docks: readonly DockConfig[],
  host: Pick<DaemonHost, 'now' | 'timers' | 'listPorts' | 'portsMark' | 'exists'>,
  pace: Pick<DaemonPace, 'lookMs' | 'calmLookMs'>,
  tell: (place: number, found: PortFound) => void,
): PortWatch {
  const last: (PortFound | undefined)[] = docks.map(() => undefined);
  const serial = docks.filter((dock) => !isOnNetwork(dock));
  const names = serial.map((dock) => dock.path ?? dock.port).filter((name) => name !== undefined);
  let seen: readonly SeenPort[] = [];
  /** What the cheap mark was when the list was made, since when it has been that, and when that was. */
  let listed: { readonly mark: string; readonly since: Instant; readonly at: Instant } | undefined;
  let cancel = (): void => {};
  let isStopped = false;
  let running: Promise<void> | undefined;

  /** Lists the ports, unless the cheap mark says that the list is what it was. */
  const list = async (): Promise<void> => {
    const at = host.now();
    const mark = await host.portsMark().catch(() => undefined);
    const before = listed?.mark === mark ? listed : undefined;
    if (before && before.at - before.since >= SETTLED_MS && at >= before.at && at - before.at < TRUST_MS) return;
    seen = await host.listPorts();
    listed = mark === undefined ? undefined : { mark, since: before?.since ?? at, at };
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
      listed = undefined;
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
