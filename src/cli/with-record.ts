/** Opens the store of a call for a command by which a person enters or decides something. */
import { DEFAULT_POLICY } from '../clinic/rules/policy.ts';
import { instant } from '../core/instant.ts';
import type { RecordContext } from '../record/context.ts';
import { judgeUnjudged } from '../record/judge.ts';
import { openStore } from '../store/open-store.ts';
import type { Store } from '../store/store.ts';
import { accountName } from './account-name.ts';
import { type CommonOptions, dataFolderOf } from './common-options.ts';
import { dockZone, readConfig } from './config.ts';

/** The options of a command by which something is entered. */
export interface RecordOptions extends CommonOptions {
  /** The operator's name. */
  readonly by?: string;
}

/** What such a command is handed. */
export interface RecordCall {
  readonly store: Store;
  readonly context: RecordContext;
  /** The zone in which times are given and shown. */
  readonly zone: string;
}

/** Runs `work` on the store of the data folder; a store that is not there is made. */
export async function withRecord(options: RecordOptions, work: (call: RecordCall) => Promise<void>): Promise<void> {
  const folder = dataFolderOf(options);
  const config = readConfig(folder);
  const zone = dockZone(undefined, config);
  const now = instant(Date.now());
  const by = options.by?.trim() || accountName();
  const context: RecordContext = { now, by, policy: config.clinic ?? DEFAULT_POLICY };
  const store = openStore({ dir: folder, now });
  try {
    judgeUnjudged(store, context.policy, now);
    await work({ store, context, zone });
  } finally {
    store.close();
  }
}
