/** Waiting for the write lock beside another program that hardly ever lets go of it. */
import { spawn } from 'node:child_process';
import { once } from 'node:events';
import { createRequire } from 'node:module';
import { setTimeout as sleep } from 'node:timers/promises';
import { describe, expect, it, onTestFinished } from 'vitest';
import { instant } from '../../src/core/instant.ts';
import { openStore } from '../../src/store/open-store.ts';
import { STORE_FILE } from '../../src/store/store-file.ts';
import { tempFolder } from './temp-store.ts';

/** Writes for 30 ms at a time, with a millisecond in between. */
const BUSY_WRITER = `
  const Sqlite = require(process.argv[1]);
  const db = new Sqlite(process.argv[2], { timeout: 60_000 });
  db.pragma('synchronous = OFF');
  const spin = (ms) => { for (const end = performance.now() + ms; performance.now() < end; ); };
  const write = db.transaction(() => { db.exec('INSERT INTO busy VALUES (1)'); spin(30); });
  console.log('writing');
  for (;;) { write.immediate(); spin(1); }
`;

describe('a store that another program writes all the time', () => {
  it('is written all the same: the lock is looked for often enough to be found free', async () => {
    const dir = tempFolder();
    const store = openStore({ dir, now: instant(Date.UTC(2026, 2, 2)), busyMs: 3000 });
    store.db.script('CREATE TABLE busy (x)');
    const library = createRequire(import.meta.url).resolve('better-sqlite3');
    const other = spawn(process.execPath, ['-e', BUSY_WRITER, library, `${dir}/${STORE_FILE}`]);
    onTestFinished(() => void other.kill('SIGKILL'));
    await once(other.stdout, 'data');
    for (let i = 0; i < 40; i++) {
      store.db.write(() => store.db.statement('INSERT INTO busy VALUES (2)').run());
      if (i % 4 === 0) store.db.rehearse(() => store.db.statement('DELETE FROM busy').run());
      await sleep(5);
    }
    expect(store.db.statement('SELECT count(*) AS n FROM busy WHERE x = 2').get()).toEqual({ n: 40 });
    expect(store.db.statement('SELECT count(*) > 0 AS n FROM busy WHERE x = 1').get()).toEqual({ n: 1 });
    store.close();
  });
});
