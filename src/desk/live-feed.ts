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
  let seenOutlets = '';
  const markOf = (sql: string): string => JSON.stringify(store.db.statement(sql).get());
  const tellStatus = (): void => {
    const now = status();
    for (const listener of listeners) listener.status(now);
  };
  const look = (): void => {
    if (listeners.size === 0) return;
    const found = markOf(MARK);
    const outlets = markOf(OUTLETS);
    if (found === seen && outlets === seenOutlets) return;
    if (found !== seen) {
      n += 1;
      for (const listener of listeners) listener.changed(n);
    }
    seen = found;
    seenOutlets = outlets;
    tellStatus();
  };
  const watch = (): (() => void) => {
    seen = markOf(MARK);
    seenOutlets = markOf(OUTLETS);
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

/** Changes with everything that an outlet does: what it was told, and whether it can be reached. */
const OUTLETS = `SELECT group_concat(concat_ws(' ', name, state, cursor_seq, sent_at, error_at, next_try_at)) AS outlets FROM outlet`;
