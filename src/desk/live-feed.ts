/** What pages are told by themselves: one watch over daemon and store for all of them, and none while no page is open. */
import type { DeskStatus } from './api/live.ts';
import type { DeskTools } from './tools.ts';

/** What a page hears. */
export interface LiveListener {
  status(status: DeskStatus): void;
  changed(n: number): void;
}

export interface LiveFeed {
  /** Tells the page all that is now, then all that changes, until the returned function is called. */
  listen(listener: LiveListener): () => void;
  /** Looks at the store at once: a route of the desk has written. */
  look(): void;
}

/** Other programs write into the store without a word. */
const LOOK_MS = 1000;

/** The feed. */
export function makeLiveFeed(
  { store, daemon }: Pick<DeskTools, 'store' | 'daemon'>,
  status: () => DeskStatus,
): LiveFeed {
  const listeners = new Set<LiveListener>();
  let n = 0;
  let seen = '';
  let stopWatching: (() => void) | undefined;
  const mark = (): string => JSON.stringify(store.db.statement(MARK).get());
  const tellStatus = (): void => {
    const now = status();
    for (const listener of listeners) listener.status(now);
  };
  const look = (): void => {
    if (listeners.size === 0) return;
    const found = mark();
    if (found === seen) return;
    seen = found;
    n += 1;
    for (const listener of listeners) listener.changed(n);
    tellStatus();
  };
  const watch = (): (() => void) => {
    seen = mark();
    const unwatch = daemon.watch(() => {
      tellStatus();
      look();
    });
    const timer = setInterval(look, LOOK_MS);
    return () => {
      clearInterval(timer);
      unwatch();
    };
  };
  return {
    listen(listener) {
      listeners.add(listener);
      stopWatching ??= watch();
      listener.status(status());
      listener.changed(n);
      return () => {
        listeners.delete(listener);
        if (listeners.size > 0) return;
        stopWatching?.();
        stopWatching = undefined;
      };
    },
    look,
  };
}

/** Grows with everything that somebody decides or enters, that is read from a meter, or that becomes of a reading. */
const MARK = `SELECT (SELECT max(n) FROM audit) AS audit, (SELECT max(seq) FROM outgoing) AS outgoing,
  (SELECT max(capture_no) FROM download) AS download`;
