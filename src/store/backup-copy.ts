/** A copy of a store in one file: opened by nobody else, looked at as what it will become, and proved. */
import { Fault } from '../core/fault.ts';
import type { Instant } from '../core/instant.ts';
import { checkStore, type StoreTally } from './check-store.ts';
import { makeDatabase } from './database.ts';
import { APPLICATION_ID, MIGRATIONS } from './migrations.ts';
import { migrate } from './open-store.ts';
import { openSqlite, type SqliteConnection } from './sqlite.ts';
import { makeStore, type Store } from './store.ts';
import { storeFault } from './store-faults.ts';

/** Runs `work` on a copy that nobody else uses, as one file without companions. */
export function withCopy<T>(path: string, named: string, now: Instant, work: (copy: Store) => T): T {
  let db: SqliteConnection;
  try {
    db = openSqlite(path, { fileMustExist: true });
  } catch (thrown) {
    throw damaged(named, 'it cannot be opened', thrown);
  }
  try {
    if (Number(db.pragma('application_id', { simple: true })) !== APPLICATION_ID)
      throw damaged(named, 'it is not a backup of tallydock');
    if (Number(db.pragma('user_version', { simple: true })) > MIGRATIONS.length)
      throw new Fault('STORE_NEWER', `${named} was written by a newer tallydock`, 'Install the newer version first.');
    db.pragma('journal_mode = DELETE');
    db.pragma('synchronous = FULL');
    db.pragma('foreign_keys = ON');
    migrate(db, now); // one of an older program is looked at as what it will become
    return work(makeStore(makeDatabase(db, path)));
  } catch (thrown) {
    const fault = storeFault(thrown, named);
    throw fault.code === 'STORE_DAMAGED' ? damaged(named, 'its content is damaged', fault) : fault;
  } finally {
    db.close();
  }
}

/** The tally of a copy that holds every promise of a store; throws BACKUP_DAMAGED with the first that it breaks. */
export function provenTally(copy: Store, named: string): StoreTally {
  const { problems, tally } = checkStore(copy);
  if (problems[0]) throw damaged(named, problems[0].message);
  return tally;
}

/** The fault of a file that is not a whole backup. */
export const damaged = (file: string, why: string, cause?: unknown): Fault =>
  new Fault('BACKUP_DAMAGED', `${file} is not a whole backup: ${why}`, 'Do not rely on it: take another one.', {
    cause,
  });
