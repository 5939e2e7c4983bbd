/**
 * What the daemon does for the outlets: it feeds them as long as it runs. While another program of this store feeds them
 * (`outlet send`), it waits for that to end.
 */
import { setTimeout as sleep } from 'node:timers/promises';
import { asFault } from '../core/fault.ts';
import type { Instant } from '../core/instant.ts';
import type { OutletStatus } from '../dock/daemon.ts';
import type { DaemonLog } from '../dock/start-daemon.ts';
import { type Drive, type DriveNews, driveOutlets } from '../outlets/drive.ts';
import { takeForwardLock } from '../outlets/forward-lock.ts';
import { openOutlet } from '../outlets/open-outlet.ts';
import type { HeldLock } from '../store/held-lock.ts';
import type { StoredOutlet } from '../store/outlets.ts';
import type { Store } from '../store/store.ts';
import { realTimers } from '../wire/timers.ts';
import type { Config } from './config.ts';
import { gatewayOf } from './outlet-gateway.ts';

/** What forwarding works with. */
export interface ForwardingTools {
  readonly folder: string;
  readonly config: Config;
  readonly store: Store;
  readonly now: () => Instant;
  readonly log: DaemonLog;
}

export interface Forwarding {
  status(): readonly OutletStatus[];
  /** Ends it; a batch that is under way is given up and comes again at the next start. */
  stop(): Promise<void>;
}

const LOCK_MS = 2000;

/** Starts forwarding. */
export function startForwarding({ folder, config, store, now, log }: ForwardingTools): Forwarding {
  const gateway = gatewayOf(store, config);
  const stopping = new AbortController();
  let lock: HeldLock | undefined;
  let drive: Drive | undefined;
  const begin = async (): Promise<void> => {
    while (!stopping.signal.aborted && !drive) {
      lock = tryLock(folder, log);
      if (lock)
        drive = driveOutlets({
          store,
          now,
          timers: realTimers,
          chance: Math.random,
          open: (row) => openOutlet(row, gateway),
          tell: (news) => tell(news, log),
        });
      else await sleep(LOCK_MS, undefined, { signal: stopping.signal, ref: false }).catch(() => {}); // stopped meanwhile
    }
  };
  const begun = begin();
  return {
    status: () => outletsOf(store),
    async stop() {
      stopping.abort();
      await begun;
      await drive?.stop();
      lock?.release();
    },
  };
}

function tryLock(folder: string, log: DaemonLog): HeldLock | undefined {
  try {
    return takeForwardLock(folder);
  } catch (thrown) {
    log.error({ code: asFault(thrown).code }, 'failed');
    return undefined;
  }
}

function tell(news: DriveNews, log: DaemonLog): void {
  const { outlet } = news;
  if (news.kind === 'down') log.warn({ outlet, code: news.fault.code }, 'outlet cannot be reached');
  else if (news.kind === 'recovered') log.info({ outlet }, 'outlet works again');
  else log.warn({ outlet, refused: news.count }, 'outlet refused readings');
}

/** The outlets of a store as the status shows them. */
export const outletsOf = (store: Store): OutletStatus[] => store.outlets.list().map((row) => outletStatus(row, store));

/** One outlet as the status shows it. */
function outletStatus(row: StoredOutlet, store: Store): OutletStatus {
  const { name, kind, state, sentAt, trouble, nextTryAt } = row;
  return {
    name,
    kind,
    state,
    ...store.outlets.lag(row),
    ...(sentAt === undefined ? {} : { sentAt }),
    ...(trouble ? { trouble } : {}),
    ...(nextTryAt === undefined || !trouble ? {} : { nextTryAt }),
  };
}
