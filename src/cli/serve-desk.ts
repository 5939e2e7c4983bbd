/**
 * The page in the browser, served beside the docks. It is never the reason that a dock stands still: where it cannot be
 * opened, the status says why.
 */
import { DEFAULT_POLICY } from '../clinic/rules/policy.ts';
import { asFault } from '../core/fault.ts';
import type { Instant } from '../core/instant.ts';
import { openDesk } from '../desk/listen.ts';
import { reportsApart } from '../desk/reports-apart.ts';
import type { Config } from '../dock/config.ts';
import { editConfig } from '../dock/edit-config.ts';
import type { ReloadableDaemon } from '../dock/reloadable-daemon.ts';
import type { DaemonLog } from '../dock/start-daemon.ts';
import { dockZone } from './config.ts';
import { programVersion } from './version.ts';
import type { Intake } from './with-intake.ts';

/** What the desk of a daemon is made with. */
export interface ServedDeskTools extends Pick<Intake, 'store' | 'profiles'> {
  readonly folder: string;
  readonly config: Config;
  readonly daemon: ReloadableDaemon;
  readonly now: () => Instant;
  readonly log: DaemonLog;
}

/** The desk of a daemon. */
export interface ServedDesk {
  /** Where a browser finds it; absent where there is none. */
  readonly url?: string;
  /** A sentence where it could not be opened. */
  readonly warning?: string;
  close(): Promise<void>;
}

/** Opens it. Never rejects. */
export async function serveDesk(tools: ServedDeskTools): Promise<ServedDesk> {
  const { folder, daemon, log } = tools;
  let { config } = tools;
  const none = { close: () => Promise.resolve() };
  if (!config.desk.enabled) return none;
  try {
    const reports = reportsApart(folder);
    const desk = await openDesk({
      ...tools,
      reports,
      version: programVersion(),
      config: () => config,
      editConfig(changes) {
        config = editConfig(folder, changes);
      },
      reloadDocks: (besides) => daemon.reload(besides ? { ...config, docks: [...config.docks, besides] } : config),
      policy: () => config.clinic ?? DEFAULT_POLICY,
      zone: () => dockZone(undefined, config),
    });
    log.debug({}, 'desk opened');
    return {
      url: desk.url,
      async close() {
        reports.close();
        await desk.close();
      },
    };
  } catch (thrown) {
    const { code, message, hint } = asFault(thrown);
    log.error({ code }, 'desk cannot be opened');
    return { ...none, warning: `The desk is not there: ${message}. ${hint}` };
  }
}
