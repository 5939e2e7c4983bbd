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

/**
 * Runs `work` on the store of the data folder, on one unchanging view of it: a download may be taken in meanwhile, and
 * the list sees nothing of it. Throws STORE_MISSING where nothing was ever stored.
 */
export function withStore(options: CommonOptions, work: (look: Look) => Promise<void>): Promise<void> {
  return withChangingStore(options, (look) => {
    look.store.db.script('BEGIN'); // closing ends it
    return work(look);
  });
}

/** The same for work that waits for another program: what others write meanwhile, it sees. */
export async function withChangingStore(options: CommonOptions, work: (look: Look) => Promise<void>): Promise<void> {
  const folder = dataFolderOf(options);
  const zone = dockZone(undefined, readConfig(folder));
  const store = openStore({ dir: folder, now: instant(Date.now()), mustExist: true });
  try {
    await work({ store, zone });
  } finally {
    store.close();
  }
}
