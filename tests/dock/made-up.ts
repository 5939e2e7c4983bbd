/** Small things that tests of the docks share: a dock's config, and a log that is kept. */
import type { DockConfig } from '../../src/dock/config.ts';
import type { DaemonLog } from '../../src/dock/start-daemon.ts';

/** A dock as the config file makes it. */
export const dockOf = (over: Partial<DockConfig> & { name: string }): DockConfig => ({
  setClock: 'when-off',
  detect: false,
  ...over,
});

/** One line of the log. */
export interface Logged {
  readonly level: 'debug' | 'info' | 'warn' | 'error';
  readonly facts: Record<string, unknown>;
  readonly message: string;
}

/** The most lines that are kept: long runs watch the memory. */
const MAX_KEPT = 200;

/** A log whose last lines are kept in a list. */
export function keptLog(): { readonly log: Logged[]; readonly logger: DaemonLog } {
  const log: Logged[] = [];
  const to =
    (level: Logged['level']) =>
    (facts: object, message: string): void => {
      log.push({ level, facts: { ...facts }, message });
      if (log.length > MAX_KEPT) log.shift();
    };
  return { log, logger: { debug: () => {}, info: to('info'), warn: to('warn'), error: to('error') } };
}
