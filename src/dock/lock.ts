/**
 * One daemon a store. The daemon holds a write lock of SQLite on a small file of its own in the data folder for as
 * long as it lives; the operating system takes the lock away when the process ends, however it ends. The same file
 * says who holds it, so that a second daemon and every client can name the first.
 *
 * Nobody but SQLite may open this file in the daemon's process: POSIX drops a process's locks on a file as soon as it
 * closes any handle of that file (fcntl(2)).
 */
import { closeSync, mkdirSync, openSync, statSync } from 'node:fs';
import { join } from 'node:path';
import { z } from 'zod';
import { Fault } from '../core/fault.ts';
import { type Instant, instant } from '../core/instant.ts';
import { formatWall } from '../core/meter-time.ts';
import { zoneOf } from '../core/zone.ts';
import { type HeldLock, isLockBusy, keepLocked } from '../store/held-lock.ts';
import { openSqlite, type SqliteConnection } from '../store/sqlite.ts';
import { storeFault } from '../store/store-faults.ts';

/** Name of the lock file inside the data folder. */
export const LOCK_FILE = 'daemon.lock';

/** Who holds the lock. */
export interface LockHolder {
  readonly pid: number;
  readonly since: Instant;
  /** Where its control channel listens: the path of a socket, or the name of a pipe. */
  readonly control: string;
}

/** A client's look at the lock takes far less than this; a daemon that starts waits it out. */
const BUSY_MS = 1000;
/** Two daemons that start at once overwrite each other's names at most now and then. */
const TRIES = 20;

const HolderRow = z.object({ pid: z.int(), since: z.int().transform(instant), control: z.string() });

/**
 * Takes the lock of a data folder, which is made if it is not there. Throws DAEMON_RUNNING, which names the holder,
 * or STORE_DENIED, STORE_FULL, STORE_DAMAGED where the file cannot be used.
 */
export function takeLock(dataDir: string, holder: LockHolder): HeldLock {
  const path = join(dataDir, LOCK_FILE);
  let db: SqliteConnection | undefined;
  try {
    mkdirSync(dataDir, { recursive: true, mode: 0o700 });
    if (!isThere(path)) closeSync(openSync(path, 'a', 0o600));
    db = openSqlite(path, { timeout: BUSY_MS });
    hold(db, holder);
    return keepLocked(db);
  } catch (thrown) {
    const isHeld = isLockBusy(thrown);
    const other = isHeld && db ? readHolder(db) : undefined;
    db?.close();
    throw isHeld ? runningFault(dataDir, other) : storeFault(thrown, path);
  }
}

/**
 * Writes the name and then keeps a write transaction open, which readers can still look past. Between the two another
 * daemon may have written its own name: then both begin again.
 */
function hold(db: SqliteConnection, holder: LockHolder): void {
  for (let tries = 0; tries < TRIES; tries++) {
    db.exec('BEGIN IMMEDIATE');
    db.exec('CREATE TABLE IF NOT EXISTS holder (pid INTEGER, since INTEGER, control TEXT) STRICT; DELETE FROM holder');
    db.prepare('INSERT INTO holder VALUES (?, ?, ?)').run(holder.pid, holder.since, holder.control);
    db.exec('COMMIT');
    db.exec('BEGIN IMMEDIATE');
    const named = readHolder(db);
    if (named?.pid === holder.pid && named.since === holder.since) return;
    db.exec('ROLLBACK');
  }
  throw new Fault('STORE_BUSY', 'Other daemons are starting on this store', 'Start only one, then try again.');
}

/** The daemon that holds the lock of a data folder now; undefined where none runs. Throws STORE_DENIED or STORE_DAMAGED. */
export function lockHolder(dataDir: string): LockHolder | undefined {
  const path = join(dataDir, LOCK_FILE);
  let db: SqliteConnection | undefined;
  try {
    if (!isThere(path)) return undefined;
    db = openSqlite(path, { timeout: 0 });
    return isFree(db) ? undefined : readHolder(db);
  } catch (thrown) {
    throw storeFault(thrown, path);
  } finally {
    db?.close();
  }
}

/** Throws where the folder does not even let us look, which is not the same as a file that is not there. */
const isThere = (path: string): boolean => statSync(path, { throwIfNoEntry: false }) !== undefined;

/** Takes the lock for a moment, the only way to know whether it is free. */
function isFree(db: SqliteConnection): boolean {
  try {
    db.exec('BEGIN IMMEDIATE; ROLLBACK');
    return true;
  } catch (thrown) {
    if (isLockBusy(thrown)) return false;
    throw thrown;
  }
}

function readHolder(db: SqliteConnection): LockHolder | undefined {
  const isNamed = db.prepare("SELECT 1 FROM sqlite_schema WHERE name = 'holder'").get() !== undefined;
  return isNamed ? HolderRow.optional().parse(db.prepare('SELECT pid, since, control FROM holder').get()) : undefined;
}

/** "a daemon (process 4711, since 2026-03-02 10:15 Europe/Lisbon)", for sentences. `zone`: of the reader; the PC's unless given. */
export function namedDaemon(
  holder: LockHolder | undefined,
  zone = new Intl.DateTimeFormat().resolvedOptions().timeZone,
): string {
  if (!holder) return 'a daemon';
  const since = formatWall(zoneOf(zone).wallAt(holder.since), 60_000).replace('T', ' ');
  return `a daemon (process ${holder.pid}, since ${since} ${zone})`;
}

const runningFault = (dataDir: string, holder: LockHolder | undefined): Fault =>
  new Fault(
    'DAEMON_RUNNING',
    `The store in ${dataDir} is looked after by ${namedDaemon(holder)} already`,
    'See what it does with `tallydock status`; stop it with `tallydock serve --stop` to start another.',
  );
