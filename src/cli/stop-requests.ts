/** Wishes to stop: signals of the system and requests over the control channel. The first is a wish, the second an order. */

export type StopHow = 'clean' | 'now';

export interface StopRequests {
  /** Somebody wishes to stop. */
  ask(how: StopHow): void;
  /** Resolves at the first wish. */
  readonly first: Promise<StopHow>;
  /** Resolves at the second wish, or at a first one that is `now`. */
  readonly order: Promise<void>;
  /** Lets signals do what they do without us. */
  dispose(): void;
}

/**
 * The signals that end a program: a service manager's SIGTERM, Ctrl+C, a terminal or (on Windows) a console window that
 * is closed (SIGHUP; Windows ends the program some seconds later whatever it does), Ctrl+Break.
 */
const SIGNALS: readonly NodeJS.Signals[] =
  process.platform === 'win32' ? ['SIGTERM', 'SIGINT', 'SIGHUP', 'SIGBREAK'] : ['SIGTERM', 'SIGINT', 'SIGHUP'];

/** Listens from now on. */
export function stopRequests(): StopRequests {
  let isAsked = false;
  let first = (_: StopHow): void => {};
  let order = (): void => {};
  const firstAsked = new Promise<StopHow>((resolve) => {
    first = resolve;
  });
  const ordered = new Promise<void>((resolve) => {
    order = resolve;
  });
  const ask = (how: StopHow): void => {
    if (isAsked || how === 'now') order();
    isAsked = true;
    first(how);
  };
  const onSignal = (): void => ask('clean');
  for (const signal of SIGNALS) process.on(signal, onSignal);
  return {
    ask,
    first: firstAsked,
    order: ordered,
    dispose() {
      for (const signal of SIGNALS) process.off(signal, onSignal);
    },
  };
}
