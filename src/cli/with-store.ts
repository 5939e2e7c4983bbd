/** Opens the store of a call for a command that only looks, and closes it again whatever happens. */
import { instant } from '../core/instant.ts';
import { openStore } from '../store/open-store.ts';
import type { Store } from '../store/store.ts';
import { type CommonOptions, dataFolderOf } from './common-options.ts';
import { dockZone, readConfig } from './config.ts';

/** What a command that looks into the store is handed. */
export interface Look {
  readonly store: Store;
  /** The zone in which times are shown to people. */
  readonly zone: string;
}

/** Runs `work` on the store of the data folder. Throws STORE_MISSING where nothing was ever stored. */
export async function withStore(options: CommonOptions, work: (look: Look) => Promise<void>): Promise<void> {
  const folder = dataFolderOf(options);
  const zone = dockZone(undefined, readConfig(folder));
  const store = openStore({ dir: folder, now: instant(Date.now()), mustExist: true });
  try {
    // One unchanging view for the whole list, although a download may be taken in meanwhile; closing ends it.
    store.db.script('BEGIN');
    await work({ store, zone });
  } finally {
    store.close();
  }
}
