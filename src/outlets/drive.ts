/**
 * Drives all outlets of a store, each in a lane of its own: what one cannot take never holds up another. A lane looks
 * into the store again and again, so that outlets which another program adds, pauses or rewinds are followed at once.
 */
import { setImmediate as breathe } from 'node:timers/promises';
import { asFault, type Fault } from '../core/fault.ts';
import { type Instant, instant } from '../core/instant.ts';
import type { StoredOutlet } from '../store/outlets.ts';
import type { Store } from '../store/store.ts';
import type { Timers } from '../wire/timers.ts';
import { backOffMs, CEILING_MS } from './back-off.ts';
import { type OpenOutlet, type Worked, workOff } from './work-off.ts';

/** What the driver works with. */
export interface DriveTools {
  readonly store: Store;
  readonly now: () => Instant;
  readonly timers: Timers;
  /** A number in [0, 1), another each time. */
  readonly chance: () => number;
  /** Opens an outlet as it is set up. Throws OUTLET_INVALID or OUTLET_DOWN. */
  readonly open: (outlet: StoredOutlet) => OpenOutlet | Promise<OpenOutlet>;
  /** Told the first failure for each reason, the recovery, and every refusal. */
  readonly tell?: (what: DriveNews) => void;
}

export type DriveNews =
  | { readonly kind: 'down'; readonly outlet: string; readonly fault: Fault }
  | { readonly kind: 'recovered'; readonly outlet: string }
  | { readonly kind: 'refused'; readonly outlet: string; readonly count: number };

export interface Drive {
  /** Ends all lanes; a batch that is under way is given up and comes again. */
  stop(): Promise<void>;
}

/** How often a lane looks for something new, and the driver for new outlets. */
const LOOK_MS = 2000;
/** A receiver that has not answered by then counts as down. */
const SEND_MS = 120_000;

/** Starts driving. */
export function driveOutlets(tools: DriveTools): Drive {
  const { store, timers } = tools;
  const lanes = new Map<number, Promise<void>>();
  const stop = new AbortController();
  const rest = (): Promise<void> => pause(timers, LOOK_MS, stop.signal);
  const watch = async (): Promise<void> => {
    while (!stop.signal.aborted) {
      for (const { outletNo } of tryListing(store))
        if (!lanes.has(outletNo))
          lanes.set(
            outletNo,
            runLane(outletNo, tools, rest, stop.signal).finally(() => lanes.delete(outletNo)),
          );
      await rest();
    }
  };
  const watching = watch();
  return {
    async stop() {
      stop.abort();
      await watching;
      await Promise.all(lanes.values());
    },
  };
}

/** The outlets; none while the store cannot be read, which others notice and say. */
function tryListing(store: Store): StoredOutlet[] {
  try {
    return store.outlets.list();
  } catch {
    return [];
  }
}

/** Feeds one outlet until it is removed or all is stopped. */
async function runLane(
  outletNo: number,
  tools: DriveTools,
  rest: () => Promise<void>,
  signal: AbortSignal,
): Promise<void> {
  const { store, now } = tools;
  let open: OpenOutlet | undefined;
  const letGo = async (): Promise<void> => {
    const leaving = open;
    open = undefined;
    await leaving?.outlet.close().catch(() => {}); // it is being left because it does not work
  };
  try {
    while (!signal.aborted) {
      let row: StoredOutlet | undefined;
      try {
        row = store.outlets.get(outletNo);
        if (!row) return;
        if (row.state === 'paused') await letGo();
        else if (isDue(row, now())) {
          open ??= await tools.open(row);
          const worked = await stepWithin(outletNo, open, tools, signal);
          tellWorked(row, worked, tools);
          if (worked.kind === 'worked') {
            await breathe(); // a long log of which this outlet wants nothing must not stop the docks
            continue;
          }
        }
      } catch (thrown) {
        if (!signal.aborted) noteFailure(row, asFault(thrown), tools);
        await letGo();
      }
      if (!signal.aborted) await rest();
    }
  } finally {
    await letGo();
  }
}

/** A clock that was put back must not make anybody wait for longer than the ceiling. */
const isDue = ({ nextTryAt }: StoredOutlet, now: Instant): boolean =>
  nextTryAt === undefined || nextTryAt <= now || nextTryAt - now > CEILING_MS;

/** One step that ends when its time is up. */
async function stepWithin(outletNo: number, open: OpenOutlet, tools: DriveTools, stop: AbortSignal): Promise<Worked> {
  const late = new AbortController();
  const cancel = tools.timers.after(SEND_MS, () => late.abort());
  try {
    return await workOff(outletNo, open, { ...tools, signal: AbortSignal.any([stop, late.signal]) });
  } finally {
    cancel();
  }
}

function tellWorked({ name, failures, outletNo }: StoredOutlet, worked: Worked, { store, tell }: DriveTools): void {
  if (failures > 0) {
    if (worked.kind === 'idle') store.outlets.recovered(outletNo);
    tell?.({ kind: 'recovered', outlet: name });
  }
  if (worked.kind === 'worked' && worked.refused > 0) tell?.({ kind: 'refused', outlet: name, count: worked.refused });
}

/** Notes a failure and when to try again. */
function noteFailure(row: StoredOutlet | undefined, fault: Fault, { store, now, chance, tell }: DriveTools): void {
  if (!row) return;
  const { code, message, hint } = fault;
  if (row.trouble?.code !== code) tell?.({ kind: 'down', outlet: row.name, fault });
  const at = now();
  try {
    const next = instant(at + backOffMs(row.failures + 1, chance()));
    store.outlets.fail(row.outletNo, { code, message, hint, at }, next);
  } catch {
    // A store that cannot be written is said elsewhere; the next look comes after the usual rest.
  }
}

/** Waits so long, or until it is stopped. */
function pause(timers: Timers, ms: number, signal: AbortSignal): Promise<void> {
  return new Promise((resolve) => {
    if (signal.aborted) return resolve();
    const done = (): void => {
      cancel();
      signal.removeEventListener('abort', done);
      resolve();
    };
    const cancel = timers.after(ms, done);
    signal.addEventListener('abort', done);
  });
}
