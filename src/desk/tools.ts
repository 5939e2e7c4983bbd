/** What the desk works with: handed in by `tallydock serve`, or by a test. */
import type { Policy } from '../clinic/rules/policy.ts';
import type { Instant } from '../core/instant.ts';
import type { Config } from '../dock/config.ts';
import type { Daemon } from '../dock/daemon.ts';
import type { DaemonLog } from '../dock/start-daemon.ts';
import type { Store } from '../store/store.ts';

export interface DeskTools {
  /** The data folder. */
  readonly folder: string;
  readonly version: string;
  /** Open; the desk does not close it. */
  readonly store: Store;
  readonly daemon: Daemon;
  /** The settings as they are now. */
  readonly config: () => Config;
  /** By which readings are judged. */
  readonly policy: () => Policy;
  /** IANA zone in which times are shown and read. */
  readonly zone: () => string;
  readonly now: () => Instant;
  readonly log: DaemonLog;
}
