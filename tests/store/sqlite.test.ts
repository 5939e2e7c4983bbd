/** Connections to SQLite: nothing that the native part made is ever left to the garbage collector. */
import { join } from 'node:path';
import { setFlagsFromString } from 'node:v8';
import { runInNewContext } from 'node:vm';
import { describe, expect, it, onTestFinished } from 'vitest';
import { keptObjects, openSqlite } from '../../src/store/sqlite.ts';
import { tempFolder } from './temp-store.ts';

setFlagsFromString('--expose-gc');
const collect: () => void = runInNewContext('gc');

const opened = () => {
  const db = openSqlite(join(tempFolder(), 'some.db'));
  onTestFinished(() => void db.close());
  return db;
};

/** Whether something is still there after the collector has run, with nothing else to hold it. */
async function survives(make: () => object): Promise<boolean> {
  const seen = (() => new WeakRef(make()))();
  for (let i = 0; i < 10; i++) {
    await new Promise(setImmediate); // a WeakRef holds until the turn is over
    collect();
  }
  return seen.deref() !== undefined;
}

describe('what a connection makes', () => {
  it('stays, though nobody holds it', async () => {
    const db = opened();
    expect(await survives(() => ({ nobody: 'holds this' }))).toBe(false);
    expect(await survives(() => db.prepare('SELECT 1'))).toBe(true);
  });

  it('stays, whichever way it was made', async () => {
    const db = opened();
    const madeBy = async (work: () => unknown): Promise<number> => {
      const before = keptObjects();
      await work();
      return keptObjects() - before;
    };
    expect(await madeBy(() => db.prepare('SELECT 1').get())).toBe(1);
    expect(await madeBy(() => db.pragma('user_version'))).toBe(1);
    expect(await madeBy(() => db.transaction(() => 1)())).toBeGreaterThan(5); // begin, commit, rollback and the like
    expect(await madeBy(() => db.transaction(() => 2)())).toBe(0);
    expect(await madeBy(() => db.backup(join(tempFolder(), 'copy.db')))).toBe(1);
    expect(await madeBy(() => db.exec('SELECT 1'))).toBe(0);
    expect(await madeBy(() => opened())).toBe(1);
  });

  it('works as ever', () => {
    const db = opened();
    db.exec('CREATE TABLE t (a)');
    db.transaction(() => db.prepare('INSERT INTO t VALUES (?)').run(7))();
    expect(db.prepare('SELECT a FROM t').pluck().get()).toBe(7);
    expect(db.pragma('user_version', { simple: true })).toBe(0);
    db.close();
    expect(() => db.prepare('SELECT 1')).toThrow('not open');
  });

  it('throws as ever', () => {
    expect(() => openSqlite(join(tempFolder(), 'none.db'), { fileMustExist: true })).toThrow('unable to open');
    expect(() => opened().prepare('SELECT nonsense FROM nowhere')).toThrow('no such table');
  });
});
