import { spawnSync } from 'node:child_process';
import { chmodSync, existsSync, mkdirSync, readFileSync, statSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { describe, expect, it } from 'vitest';
import { instant } from '../../src/core/instant.ts';
import { MIGRATIONS } from '../../src/store/migrations.ts';
import { openStore } from '../../src/store/open-store.ts';
import { openSqlite } from '../../src/store/sqlite.ts';
import { STORE_FILE } from '../../src/store/store-file.ts';
import { MADE_AT, tempFolder, tempStore } from './temp-store.ts';

const code = (work: () => unknown): string => {
  try {
    work();
  } catch (thrown) {
    return thrown instanceof Error && 'code' in thrown ? String(thrown.code) : `no code: ${String(thrown)}`;
  }
  return 'no fault';
};

describe('opening the store', () => {
  it('makes it where there is none, with the schema of today', () => {
    const store = tempStore(join(tempFolder(), 'deep', 'down'));
    expect(store.db.statement('PRAGMA user_version').get()).toEqual({ user_version: MIGRATIONS.length });
    expect(store.db.statement("SELECT value FROM meta WHERE key = 'created_at'").get()).toEqual({
      value: String(MADE_AT),
    });
  });

  it('is fully synchronous, in WAL mode and with foreign keys, also the second time', () => {
    const dir = tempFolder();
    openStore({ dir, now: MADE_AT }).close();
    const { db } = tempStore(dir);
    expect(db.statement('PRAGMA synchronous').get()).toEqual({ synchronous: 2 });
    expect(db.statement('PRAGMA journal_mode').get()).toEqual({ journal_mode: 'wal' });
    expect(db.statement('PRAGMA foreign_keys').get()).toEqual({ foreign_keys: 1 });
  });

  it.skipIf(process.platform === 'win32')('lets nobody but the owner read the folder or any of its files', () => {
    const dir = join(tempFolder(), 'data');
    const store = tempStore(dir);
    store.audit.append({ at: MADE_AT, actor: 'test', action: 'test', subject: 'x', detail: {} });
    expect(statSync(dir).mode & 0o777).toBe(0o700);
    for (const suffix of ['', '-wal', '-shm'])
      expect(statSync(join(dir, STORE_FILE + suffix)).mode & 0o777).toBe(0o600);
  });

  it.skipIf(process.platform === 'win32')('closes a file to others that was copied back open to all', () => {
    const dir = tempFolder();
    openStore({ dir, now: MADE_AT }).close();
    chmodSync(join(dir, STORE_FILE), 0o644);
    tempStore(dir);
    expect(statSync(join(dir, STORE_FILE)).mode & 0o777).toBe(0o600);
  });

  it('says that there is none where one must exist, and makes nothing', () => {
    const dir = join(tempFolder(), 'none');
    expect(code(() => openStore({ dir, now: MADE_AT, mustExist: true }))).toBe('STORE_MISSING');
    expect(existsSync(dir)).toBe(false);
  });

  it('refuses a store from a newer program and leaves it byte for byte as it was', () => {
    const dir = tempFolder();
    openStore({ dir, now: MADE_AT }).close();
    const raw = openSqlite(join(dir, STORE_FILE));
    raw.pragma(`user_version = ${MIGRATIONS.length + 1}`);
    raw.close();
    const before = readFileSync(join(dir, STORE_FILE));
    expect(code(() => openStore({ dir, now: MADE_AT }))).toBe('STORE_NEWER');
    expect(readFileSync(join(dir, STORE_FILE)).equals(before)).toBe(true);
  });

  it('refuses a file that is no database', () => {
    const dir = tempFolder();
    writeFileSync(join(dir, STORE_FILE), 'reading_id,meter_id\r\n'.repeat(500));
    expect(code(() => openStore({ dir, now: MADE_AT }))).toBe('STORE_DAMAGED');
  });

  it('refuses the database of another program and leaves it as it was', () => {
    const dir = tempFolder();
    const raw = openSqlite(join(dir, STORE_FILE));
    raw.exec('CREATE TABLE recipes (name TEXT)');
    raw.close();
    const before = readFileSync(join(dir, STORE_FILE));
    expect(code(() => openStore({ dir, now: MADE_AT }))).toBe('STORE_DAMAGED');
    expect(readFileSync(join(dir, STORE_FILE)).equals(before)).toBe(true);
  });

  it('says STORE_DAMAGED where pages in the middle of the file were overwritten', () => {
    const dir = tempFolder();
    openStore({ dir, now: MADE_AT }).close();
    const file = readFileSync(join(dir, STORE_FILE));
    file.fill(0xa5, 4096, file.length);
    writeFileSync(join(dir, STORE_FILE), file);
    expect(code(() => openStore({ dir, now: MADE_AT }).audit.check())).toBe('STORE_DAMAGED');
  });

  it('says STORE_DENIED where a folder stands in the place of the file, or a file in the place of the folder', () => {
    const dir = tempFolder();
    mkdirSync(join(dir, 'a', STORE_FILE), { recursive: true });
    expect(code(() => openStore({ dir: join(dir, 'a'), now: MADE_AT }))).toBe('STORE_DENIED');
    writeFileSync(join(dir, 'b'), '');
    expect(code(() => openStore({ dir: join(dir, 'b'), now: MADE_AT }))).toBe('STORE_DENIED');
  });

  it.skipIf(process.platform === 'win32')('says STORE_DENIED to a user who may not write the folder', () => {
    const dir = join(tempFolder(), 'theirs');
    openStore({ dir, now: MADE_AT }).close();
    // Root may write everywhere, so another account tries where this is root.
    const asOther = process.getuid?.() === 0;
    chmodSync(dir, asOther ? 0o755 : 0o500);
    chmodSync(join(dir, '..'), 0o755);
    chmodSync(join(dir, STORE_FILE), asOther ? 0o644 : 0o400);
    const found = asOther ? openAs(65534, dir) : code(() => openStore({ dir, now: MADE_AT }).close());
    chmodSync(dir, 0o700);
    expect(found).toBe('STORE_DENIED');
  });

  it('says STORE_BUSY where another connection keeps the write lock, and works when it lets go', () => {
    const dir = tempFolder();
    const first = tempStore(dir);
    const second = openStore({ dir, now: MADE_AT, busyMs: 1 });
    const entry = { at: instant(1), actor: 'a', action: 'b', subject: 'c', detail: {} };
    first.db.write(() => {
      first.audit.append(entry);
      expect(code(() => second.audit.append(entry))).toBe('STORE_BUSY');
    });
    expect(second.audit.append(entry)).toBe(2);
    second.close();
  });

  it('says STORE_FULL where there is no room, undoes the transaction, and goes on when there is room again', () => {
    const store = tempStore();
    const pages = store.db.statement<{ page_count: number }>('PRAGMA page_count').get()?.page_count ?? 0;
    store.db.statement(`PRAGMA max_page_count = ${pages + 2}`).get();
    const entry = { at: instant(1), actor: 'a', action: 'b', subject: 'x'.repeat(900), detail: {} };
    const many = () =>
      store.db.write(() => {
        for (let i = 0; i < 100; i++) store.audit.append(entry);
      });
    expect(code(many)).toBe('STORE_FULL');
    expect(store.audit.list()).toEqual([]);
    store.db.statement('PRAGMA max_page_count = 100000').get();
    many();
    expect(store.audit.check()).toEqual({ intact: true, rows: 100 });
  });
});

/** Opens the store as another account, in a process of its own; gives the fault's code. */
function openAs(uid: number, dir: string): string {
  const script = `
    import { openStore } from ${JSON.stringify(new URL('../../src/store/open-store.ts', import.meta.url).href)};
    process.setgid(${uid}); process.setuid(${uid});
    try { openStore({ dir: ${JSON.stringify(dir)}, now: 0 }).close(); console.log('no fault'); }
    catch (thrown) { console.log(thrown.code ?? String(thrown)); }`;
  const run = spawnSync(process.execPath, ['--import', 'tsx', '--input-type=module', '-e', script], {
    encoding: 'utf8',
    cwd: new URL('../..', import.meta.url),
  });
  return run.stdout.trim() || run.stderr;
}
