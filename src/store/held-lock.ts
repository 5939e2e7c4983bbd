/**
 * Locks between programs: a write lock of SQLite on a small file of its own, held as long as its connection is open. The
 * operating system takes it away when the process ends.
 */
import { systemCode } from '../core/system-code.ts';
import type { SqliteConnection } from './sqlite.ts';

/** A lock that is held. */
export interface HeldLock {
  release(): void;
}

/** An open file that nobody refers to is closed by the garbage collector, and the lock would be gone with it. */
const heldFiles = new Set<SqliteConnection>();

/** Keeps a connection that holds its write lock until it is released. */
export function keepLocked(db: SqliteConnection): HeldLock {
  heldFiles.add(db);
  return {
    release() {
      heldFiles.delete(db);
      db.close();
    },
  };
}

/** True where another program has the lock. */
export const isLockBusy = (thrown: unknown): boolean => systemCode(thrown).startsWith('SQLITE_BUSY');
