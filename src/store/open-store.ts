/**
 * Opens the store: makes folder and file readable by their owner only, refuses files that are not ours or newer than
 * this program, sets what must hold for every connection and brings the schema up to date.
 */
import { chmodSync, closeSync, existsSync, mkdirSync, openSync, statSync } from 'node:fs';
import { join } from 'node:path';
import { Fault } from '../core/fault.ts';
import type { Instant } from '../core/instant.ts';
import { BUSY_MS, makeDatabase } from './database.ts';
import { APPLICATION_ID, MIGRATIONS } from './migrations.ts';
import { openSqlite, type SqliteConnection } from './sqlite.ts';
import { makeStore, type Store } from './store.ts';
import { storeFault } from './store-faults.ts';
import { STORE_FILE } from './store-file.ts';

export interface OpenOptions {
  /** The data folder. */
  readonly dir: string;
  /** True time now; noted when the store is made. */
  readonly now: Instant;
  /** Refuse with STORE_MISSING where there is no store yet, instead of making one. */
  readonly mustExist?: boolean;
  /** How long to wait for another writer, milliseconds. */
  readonly busyMs?: number;
  /** How much of the file is kept in memory at most, KiB; the library's 16,000 where absent. */
  readonly cacheKib?: number;
}

/** SQLite's own usual: enough for one download at a time, and little for a program that runs for months. */
export const LEAN_CACHE_KIB = 2000;

/**
 * Opens the store in a data folder. Throws STORE_MISSING, STORE_NEWER, STORE_BUSY, STORE_FULL, STORE_DENIED or
 * STORE_DAMAGED.
 */
export function openStore(options: OpenOptions): Store {
  const path = join(options.dir, STORE_FILE);
  if (options.mustExist && !existsSync(path))
    throw new Fault(
      'STORE_MISSING',
      `There is no store at ${path}`,
      'Collect or replay something first, or name the right folder with --data.',
    );
  try {
    makeFile(options.dir, path);
    const { busyMs = BUSY_MS } = options;
    const db = openSqlite(path, { timeout: busyMs });
    try {
      prepareConnection(db, path, options.now);
      if (options.cacheKib !== undefined) db.pragma(`cache_size = -${options.cacheKib}`);
    } catch (thrown) {
      db.close();
      throw thrown;
    }
    return makeStore(makeDatabase(db, path, busyMs));
  } catch (thrown) {
    throw storeFault(thrown, path);
  }
}

/**
 * A second look into a store that this program has open already: nothing can be written through it. Throws STORE_BUSY,
 * STORE_DENIED or STORE_DAMAGED.
 */
export function openStoreToRead(dir: string): Store {
  const path = join(dir, STORE_FILE);
  try {
    return makeStore(makeDatabase(openSqlite(path, { readonly: true, fileMustExist: true, timeout: BUSY_MS }), path));
  } catch (thrown) {
    throw storeFault(thrown, path);
  }
}

/**
 * Makes folder and file where they are missing, and closes a file that others may read (copied back from a backup,
 * say). SQLite gives its -wal and -shm files the mode of the database file.
 */
function makeFile(dir: string, path: string): void {
  mkdirSync(dir, { recursive: true, mode: 0o700 });
  closeSync(openSync(path, 'a', 0o600));
  const isOpenToOthers = process.platform !== 'win32' && (statSync(path).mode & 0o077) !== 0;
  if (isOpenToOthers) chmodSync(path, 0o600);
}

function prepareConnection(db: SqliteConnection, path: string, now: Instant): void {
  const number = (pragma: string): number => Number(db.pragma(pragma, { simple: true }));
  const ours = number('application_id') === APPLICATION_ID;
  if (!ours && Number(db.prepare('SELECT count(*) FROM sqlite_schema').pluck().get()) > 0)
    throw new Fault('STORE_DAMAGED', `${path} is a database of another program`, 'Choose another folder with --data.');
  if (number('user_version') > MIGRATIONS.length)
    throw new Fault(
      'STORE_NEWER',
      `${path} was written by a newer tallydock`,
      'Install the newer version on this PC; this one leaves the store untouched.',
    );
  db.pragma('journal_mode = WAL');
  db.pragma('foreign_keys = ON');
  migrate(db, now);
  // The library is compiled so that a reopened WAL file starts with NORMAL, which may lose the last commits.
  db.pragma('synchronous = FULL');
  if (
    number('synchronous') !== 2 ||
    number('foreign_keys') !== 1 ||
    db.pragma('journal_mode', { simple: true }) !== 'wal'
  )
    throw new Fault(
      'INTERNAL',
      `${path} could not be opened safely`,
      'Keep the store on a local disk: network folders cannot protect it.',
    );
}

/** Brings the schema of a file of ours up to date. */
export function migrate(db: SqliteConnection, now: Instant): void {
  const version = (): number => Number(db.pragma('user_version', { simple: true }));
  if (version() === MIGRATIONS.length) return;
  db.transaction(() => {
    // Asked again inside the lock: another process may have been first.
    const from = version();
    for (const sql of MIGRATIONS.slice(from)) db.exec(sql);
    if (from === 0) db.prepare("INSERT INTO meta VALUES ('created_at', ?)").run(String(now));
    db.pragma(`application_id = ${APPLICATION_ID}`);
    db.pragma(`user_version = ${MIGRATIONS.length}`);
  }).immediate();
}
