/** What the desk works with: handed in by `tallydock serve`, or by a test. */
import type { Policy } from '../clinic/rules/policy.ts';
import type { Instant } from '../core/instant.ts';
import type { Config } from '../dock/config.ts';
import type { Daemon } from '../dock/daemon.ts';
import type { ConfigChange } from '../dock/edit-config.ts';
import type { DaemonLog } from '../dock/start-daemon.ts';
import type { ProfileLibrary } from '../intake/profile-library.ts';
import type { Store } from '../store/store.ts';
import type { ReportAsk, Reports } from './reports.ts';

export interface DeskTools {
  /** The data folder. */
  readonly folder: string;
  readonly version: string;
  /** Open; the desk does not close it. */
  readonly store: Store;
  readonly profiles: ProfileLibrary;
  /** Of the same store; the desk does not close them. */
  readonly reports: Reports;
  readonly daemon: Daemon;
  /** The settings as they are now. */
  readonly config: () => Config;
  /** Changes the settings' file, and the settings. Throws CONFIG_INVALID or FILE_UNWRITABLE. */
  readonly editConfig: (changes: readonly ConfigChange[]) => void;
  /** Watches the docks of the settings as they are now, and this one besides where it is given. */
  readonly reloadDocks: (besides?: Config['docks'][number]) => Promise<void>;
  /** By which readings are judged. */
  readonly policy: () => Policy;
  /** IANA zone in which times are shown and read. */
  readonly zone: () => string;
  readonly now: () => Instant;
  readonly log: DaemonLog;
}

/** By what a report is gathered that is asked for now. */
export const askNow = ({ now, zone, policy }: DeskTools): ReportAsk => ({
  now: now(),
  zone: zone(),
  policy: policy(),
});
