/**
 * One program at a time feeds the outlets of a store: two would hand the same readings over and tear the order. The lock
 * is a write lock of SQLite on a small file of its own; the operating system takes it away when the process ends.
 */
import { closeSync, openSync } from 'node:fs';
import { join } from 'node:path';
import { type HeldLock, isLockBusy, keepLocked } from '../store/held-lock.ts';
import { openSqlite, type SqliteConnection } from '../store/sqlite.ts';
import { storeFault } from '../store/store-faults.ts';

/** Name of the file inside the data folder. */
const FILE = 'forward.lock';

/** Takes the lock of a data folder; undefined where another program has it. Throws STORE_DENIED, STORE_FULL or STORE_DAMAGED. */
export function takeForwardLock(dataDir: string): HeldLock | undefined {
  const path = join(dataDir, FILE);
  let db: SqliteConnection | undefined;
  try {
    closeSync(openSync(path, 'a', 0o600));
    db = openSqlite(path, { timeout: 0 });
    db.exec('BEGIN IMMEDIATE');
  } catch (thrown) {
    db?.close();
    if (isLockBusy(thrown)) return undefined;
    throw storeFault(thrown, path);
  }
  return keepLocked(db);
}
