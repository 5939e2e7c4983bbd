/**
 * One program at a time feeds the outlets of a store: two would hand the same readings over and tear the order. The lock
 * is a write lock of SQLite on a small file of its own; the operating system takes it away when the process ends.
 */
import { closeSync, openSync } from 'node:fs';
import { join } from 'node:path';
import BetterSqlite from 'better-sqlite3';
import { storeFault } from '../store/store-faults.ts';

/** Name of the file inside the data folder. */
const FILE = 'forward.lock';

export interface ForwardLock {
  release(): void;
}

/** An open file that nobody refers to is closed by the garbage collector, and the lock would be gone with it. */
const held = new Set<BetterSqlite.Database>();

/** Takes the lock of a data folder; undefined where another program has it. Throws STORE_DENIED, STORE_FULL or STORE_DAMAGED. */
export function takeForwardLock(dataDir: string): ForwardLock | undefined {
  const path = join(dataDir, FILE);
  let db: BetterSqlite.Database | undefined;
  try {
    closeSync(openSync(path, 'a', 0o600));
    db = new BetterSqlite(path, { timeout: 0 });
    db.exec('BEGIN IMMEDIATE');
  } catch (thrown) {
    db?.close();
    if (thrown instanceof Error && 'code' in thrown && String(thrown.code).startsWith('SQLITE_BUSY')) return undefined;
    throw storeFault(thrown, path);
  }
  const open = db;
  held.add(open);
  return {
    release() {
      held.delete(open);
      open.close();
    },
  };
}
