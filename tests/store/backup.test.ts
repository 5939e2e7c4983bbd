/** Backups: consistent while others write, verified, sealed on wish, and restored only where nothing is overwritten. */
import { spawn } from 'node:child_process';
import { once } from 'node:events';
import { copyFileSync, existsSync, readdirSync, readFileSync, rmSync, statSync, writeFileSync } from 'node:fs';
import { createRequire } from 'node:module';
import { join } from 'node:path';
import { describe, expect, it, onTestFinished } from 'vitest';
import { instant } from '../../src/core/instant.ts';
import { loadProfiles } from '../../src/intake/profile-library.ts';
import { rebuild } from '../../src/intake/rebuild.ts';
import { replayCapture } from '../../src/intake/replay.ts';
import { makeBackup, makeDatedBackup } from '../../src/store/backup.ts';
import { backupName, backupTime, beyondKeep, newestBackup } from '../../src/store/backup-names.ts';
import { checkStore, tallyOf } from '../../src/store/check-store.ts';
import { restoreBackup } from '../../src/store/restore-backup.ts';
import { sealFile, unsealFile } from '../../src/store/seal-backup.ts';
import type { Store } from '../../src/store/store.ts';
import { lifeOf } from '../intake/told-meter.ts';
import { tempFolder, tempStore } from './temp-store.ts';

const SEED = Number(process.env['SEED'] ?? 20260302);
const NOW = instant(Date.UTC(2026, 5, 1, 9, 30, 0));
const context = { now: NOW, actor: 'test' };
const profiles = loadProfiles('/nowhere');
const PASSPHRASE = 'gulls over the breakwater';
const CHEAP = { logN: 8, r: 8, p: 1, chunkBytes: 64 };

/** A data folder with some visits of one meter in it. */
function filled(visits = 4): { dir: string; store: Store } {
  const dir = tempFolder();
  const store = tempStore(dir);
  for (const capture of lifeOf(SEED, visits, { runs: false }).captures)
    replayCapture(store, capture, profiles, context);
  return { dir, store };
}

const order = (dir: string, passphrase?: string) => ({
  dir,
  now: NOW,
  actor: 'ana: backup',
  ...(passphrase === undefined ? {} : { passphrase }),
});
const restoring = (file: string, dir: string, passphrase = PASSPHRASE) => ({
  file,
  dir,
  now: NOW,
  actor: 'ana: restore',
  passphrase: async () => passphrase,
});
const stamps = (store: Store): string[] => [...store.readings.pages({})].flat().map((r) => r.record.meterTimeText);

describe('a backup', () => {
  it('holds what the store holds, for its owner only, and leaves nothing else in the folder', async () => {
    const { dir, store } = filled();
    const before = tallyOf(store);
    const folder = tempFolder();
    const made = await makeBackup(order(dir), join(folder, 'b.db'));
    expect(made).toMatchObject({ file: join(folder, 'b.db'), sealed: false, tally: before, removed: [] });
    expect(readdirSync(folder)).toEqual(['b.db']);
    if (process.platform !== 'win32') expect(statSync(made.file).mode & 0o777).toBe(0o600);
    const target = tempFolder();
    expect((await restoreBackup(restoring(made.file, target))).rows['reading']).toBe(before.rows['reading']);
    const restored = tempStore(target);
    expect(stamps(restored)).toEqual(stamps(store));
    expect(checkStore(restored).problems).toEqual([]);
    expect(rebuild(restored, profiles, context, { accept: false }).differences).toEqual([]);
  });

  it('is noted in the audit chain of the store, and the restore in that of the copy', async () => {
    const { dir, store } = filled(1);
    const file = join(tempFolder(), 'b.db');
    await makeBackup(order(dir), file);
    expect(store.audit.list().at(-1)).toMatchObject({ actor: 'ana: backup', action: 'backed-up', subject: file });
    const target = tempFolder();
    await restoreBackup(restoring(file, target));
    expect(tempStore(target).audit.list().at(-1)).toMatchObject({ actor: 'ana: restore', action: 'restored' });
  });

  it('never takes the place of a file that is there', async () => {
    const { dir } = filled(1);
    const file = join(tempFolder(), 'b.db');
    writeFileSync(file, 'something dear');
    await expect(makeBackup(order(dir), file)).rejects.toMatchObject({ code: 'FILE_UNWRITABLE' });
    expect(readFileSync(file, 'utf8')).toBe('something dear');
  });

  it('says what to do where the folder is not there, and where nothing was ever stored', async () => {
    const { dir } = filled(1);
    const nowhere = join(tempFolder(), 'no', 'b.db');
    await expect(makeBackup(order(dir), nowhere)).rejects.toMatchObject({ code: 'FILE_UNWRITABLE' });
    const target = join(tempFolder(), 'b.db');
    await expect(makeBackup(order(tempFolder()), target)).rejects.toMatchObject({ code: 'STORE_MISSING' });
    expect(existsSync(target)).toBe(false);
  });

  it('is refused for a store whose raw bytes were changed behind its back, and leaves no file', async () => {
    const { dir, store } = filled(2);
    store.db.script(
      'UPDATE capture SET packed = (SELECT packed FROM capture WHERE capture_no = 1) WHERE capture_no = 2',
    );
    const folder = tempFolder();
    await expect(makeBackup(order(dir), join(folder, 'b.db'))).rejects.toMatchObject({ code: 'BACKUP_DAMAGED' });
    expect(readdirSync(folder)).toEqual([]);
  });

  it('is consistent while another process writes the store as fast as it can', async () => {
    const dir = tempFolder();
    const { path } = tempStore(dir).db;
    const library = createRequire(import.meta.url).resolve('better-sqlite3');
    // Each transaction adds a meter and says in another table how many there are now; it writes until it is killed.
    const script = `const db = require(${JSON.stringify(library)})(${JSON.stringify(path)}, { timeout: 20000 });
      // Large enough that the copy takes several steps, with writes of this process in between.
      db.exec("INSERT INTO meta VALUES ('meters', '0'), ('padding', hex(zeroblob(1000000)))");
      const add = db.transaction((n) => {
        db.prepare("INSERT INTO meter (meter_id, model, memory_order) VALUES (?, 'GM-10', 'ring')").run('PA' + n);
        db.prepare("UPDATE meta SET value = ? WHERE key = 'meters'").run(String(n));
      });
      let n = 0;
      (function go() { add.immediate(++n); process.stdout.write('.', () => setImmediate(go)); })();`;
    const child = spawn(process.execPath, ['-e', script], { stdio: ['ignore', 'pipe', 'inherit'] });
    onTestFinished(() => void child.kill('SIGKILL'));
    let steps = 0;
    child.stdout.on('data', (data: Buffer) => {
      steps += data.length;
    });
    const counts: number[] = [];
    for (let i = 0; i < 5; i++) {
      const from = steps;
      while (steps < from + 50) await once(child.stdout, 'data');
      const file = join(tempFolder(), 'b.db');
      await makeBackup(order(dir), file);
      const target = tempFolder();
      const { rows } = await restoreBackup(restoring(file, target));
      const said = tempStore(target)
        .db.statement<{ value: string }>("SELECT value FROM meta WHERE key = 'meters'")
        .get();
      expect(rows['meter']).toBe(Number(said?.value));
      counts.push(rows['meter'] ?? 0);
    }
    expect(child.exitCode).toBeNull();
    for (const [i, count] of counts.entries()) expect(count).toBeGreaterThan(counts[i - 1] ?? 0);
  }, 60_000);

  it('removes what a backup that was killed has left, and leaves alone what is somebody else’s', async () => {
    const { dir } = filled(1);
    const folder = tempFolder();
    const child = spawn(process.execPath, ['-e', '']);
    await once(child, 'exit');
    writeFileSync(join(folder, `.tallydock-copy.${child.pid}.1.draft`), 'results');
    writeFileSync(join(folder, `.tallydock-copy.${process.ppid}.1.draft`), 'of a process that lives');
    writeFileSync(join(folder, 'notes.txt'), 'mine');
    await makeBackup(order(dir), join(folder, 'b.db'));
    expect(readdirSync(folder).sort()).toEqual([`.tallydock-copy.${process.ppid}.1.draft`, 'b.db', 'notes.txt']);
  });
});

describe('backups with dated names', () => {
  it('keep the newest, remove the older, and touch no other file', async () => {
    const { dir } = filled(1);
    const folder = join(tempFolder(), 'made', 'when', 'missing');
    const days = [1, 2, 3, 4];
    for (const day of days) {
      const now = instant(Date.UTC(2026, 5, day, 9, 30, 0));
      await makeDatedBackup({ ...order(dir), now }, folder, 2);
      if (day === 1) writeFileSync(join(folder, 'tallydock-notes.db'), 'not ours');
    }
    expect(readdirSync(folder).sort()).toEqual([
      'tallydock-2026-06-03T09-30-00Z.db',
      'tallydock-2026-06-04T09-30-00Z.db',
      'tallydock-notes.db',
    ]);
  });

  it('have names that tell their moment, alike for plain and sealed ones', () => {
    for (const sealed of [false, true]) expect(backupTime(backupName(NOW, sealed))).toBe(NOW);
    expect(backupName(NOW, false)).toBe('tallydock-2026-06-01T09-30-00Z.db');
    expect(['tallydock.db', 'tallydock-2026-02-30T09-30-00Z.db', 'x-2026-06-01T09-30-00Z.db'].map(backupTime)).toEqual([
      undefined,
      undefined,
      undefined,
    ]);
    expect(newestBackup([backupName(NOW, true), backupName(instant(0), false), 'x'])).toBe(NOW);
    expect(newestBackup(['x'])).toBeUndefined();
  });

  it('never remove the one that was just made, although the PC’s clock went back', () => {
    const names = [1, 2, 3].map((day) => backupName(instant(Date.UTC(2030, 0, day)), false));
    const made = backupName(NOW, false);
    expect(beyondKeep([...names, made], 1, made)).toEqual(names);
    expect(beyondKeep([...names, made], 3, made)).toEqual(names.slice(0, 1));
    expect(beyondKeep([...names, made], 9, made)).toEqual([]);
  });
});

describe('a restore', () => {
  it('never overwrites a store, nor goes on over the remains of one', async () => {
    const { dir } = filled(1);
    const file = join(tempFolder(), 'b.db');
    await makeBackup(order(dir), file);
    await expect(restoreBackup(restoring(file, dir))).rejects.toMatchObject({ code: 'STORE_EXISTS' });
    const remains = tempFolder();
    writeFileSync(join(remains, 'tallydock.db-wal'), '');
    await expect(restoreBackup(restoring(file, remains))).rejects.toMatchObject({ code: 'STORE_EXISTS' });
    expect(readdirSync(remains)).toEqual(['tallydock.db-wal']);
  });

  it('refuses a file that is no backup, one that is missing, and one of a newer program', async () => {
    const dir = tempFolder();
    const file = join(tempFolder(), 'x.db');
    await expect(restoreBackup(restoring(file, dir))).rejects.toMatchObject({ code: 'FILE_MISSING' });
    for (const content of ['', 'x', 'x'.repeat(5000)]) {
      writeFileSync(file, content);
      await expect(restoreBackup(restoring(file, dir))).rejects.toMatchObject({ code: 'BACKUP_DAMAGED' });
    }
    rmSync(file);
    const { store, dir: other } = filled(1);
    store.db.script('PRAGMA user_version = 99; PRAGMA wal_checkpoint(TRUNCATE)');
    store.close();
    copyFileSync(join(other, 'tallydock.db'), file);
    await expect(restoreBackup(restoring(file, dir))).rejects.toMatchObject({ code: 'STORE_NEWER' });
    expect(readdirSync(dir)).toEqual([]);
  });

  it('refuses a backup in which bytes were changed on the way, or has every recorded byte as it was', async () => {
    const { dir, store } = filled();
    const file = join(tempFolder(), 'b.db');
    await makeBackup(order(dir), file);
    const whole = readFileSync(file);
    const recorded = store.captures.taken().map((no) => store.captures.load(no));
    let refused = 0;
    let page = 0;
    for (let start = 0; start < whole.length; start += 4096) {
      const bent = Buffer.from(whole);
      // Pages are filled from their end; their beginning says what is where.
      const at = start + (page++ % 2 === 0 ? 4090 : 3);
      bent[at] = (bent[at] ?? 0) ^ 0x11;
      writeFileSync(file, bent);
      const target = tempFolder();
      try {
        await restoreBackup(restoring(file, target));
        const restored = tempStore(target);
        expect(restored.captures.taken().map((no) => restored.captures.load(no))).toEqual(recorded);
      } catch (thrown) {
        expect(thrown).toMatchObject({ code: 'BACKUP_DAMAGED' });
        expect(readdirSync(target)).toEqual([]);
        refused++;
      }
    }
    expect(refused).toBeGreaterThan(page / 3);
  });
});

describe('a sealed backup', () => {
  it('opens with its passphrase only, and shows nothing of what is in it', async () => {
    const { dir, store } = filled(2);
    const folder = tempFolder();
    const made = await makeBackup(order(dir, PASSPHRASE), join(folder, 'b.sealed'));
    expect(made.sealed).toBe(true);
    expect(readdirSync(folder)).toEqual(['b.sealed']);
    expect(readdirSync(dir).filter((name) => name.includes('draft'))).toEqual([]);
    if (process.platform !== 'win32') expect(statSync(made.file).mode & 0o777).toBe(0o600);
    const bytes = readFileSync(made.file);
    for (const word of ['SQLite format 3', 'GM-10', 'PA00042', 'INR']) expect(bytes.includes(word)).toBe(false);
    const target = tempFolder();
    await expect(restoreBackup(restoring(made.file, target, 'gulls over the bay'))).rejects.toMatchObject({
      code: 'PASSPHRASE_WRONG',
    });
    expect(readdirSync(target)).toEqual([]);
    await restoreBackup(restoring(made.file, target));
    expect(stamps(tempStore(target))).toEqual(stamps(store));
  });

  it.each([0, 1, 63, 64, 65, 128, 1000])('gives back %i bytes as they were', async (length) => {
    const folder = tempFolder();
    const plain = join(folder, 'plain');
    const content = Buffer.from(Array.from({ length }, (_, i) => (i * 7) & 0xff));
    writeFileSync(plain, content);
    await sealFile(plain, join(folder, 'sealed'), PASSPHRASE, CHEAP);
    expect(readFileSync(join(folder, 'sealed')).length).toBe(39 + length + 16 * Math.max(1, Math.ceil(length / 64)));
    await unsealFile(join(folder, 'sealed'), join(folder, 'opened'), PASSPHRASE);
    expect(readFileSync(join(folder, 'opened')).equals(content)).toBe(true);
  });

  it('takes a passphrase alike however its accents were typed', async () => {
    const folder = tempFolder();
    writeFileSync(join(folder, 'plain'), 'x');
    await sealFile(join(folder, 'plain'), join(folder, 'sealed'), 'Café au port', CHEAP);
    await unsealFile(join(folder, 'sealed'), join(folder, 'opened'), 'Cafe\u0301 au port');
    expect(readFileSync(join(folder, 'opened'), 'utf8')).toBe('x');
  });

  it('is never the same twice, so that nobody sees whether anything changed', async () => {
    const folder = tempFolder();
    writeFileSync(join(folder, 'plain'), 'x'.repeat(200));
    for (const name of ['a', 'b']) await sealFile(join(folder, 'plain'), join(folder, name), PASSPHRASE, CHEAP);
    const [a, b] = ['a', 'b'].map((name) => readFileSync(join(folder, name)));
    expect(a?.subarray(39).equals(b?.subarray(39) ?? Buffer.alloc(0))).toBe(false);
  });

  it('does not open where a single byte is changed, wherever it is', async () => {
    const folder = tempFolder();
    const [plain, sealed, bent] = ['plain', 'sealed', 'bent'].map((name) => join(folder, name)) as [
      string,
      string,
      string,
    ];
    writeFileSync(plain, Buffer.from(Array.from({ length: 150 }, (_, i) => i)));
    await sealFile(plain, sealed, PASSPHRASE, CHEAP);
    const whole = readFileSync(sealed);
    for (let at = 0; at < whole.length; at++) {
      // The cost bytes are tried apart: most other values would only make the test slow.
      if (at === 8 || at === 9 || at === 10) continue;
      const other = Buffer.from(whole);
      other[at] = (other[at] ?? 0) ^ 1;
      writeFileSync(bent, other);
      await expect(unsealFile(bent, join(folder, `o${at}`), PASSPHRASE), `byte ${at}`).rejects.toMatchObject({
        code: expect.stringMatching(/^(BACKUP_DAMAGED|PASSPHRASE_WRONG)$/),
      });
    }
  });

  it('does not open where it is cut off anywhere, where parts change places, or where one is left out', async () => {
    const folder = tempFolder();
    const [plain, sealed, bent] = ['plain', 'sealed', 'bent'].map((name) => join(folder, name)) as [
      string,
      string,
      string,
    ];
    writeFileSync(plain, Buffer.from(Array.from({ length: 64 * 4 }, (_, i) => i & 0xff)));
    await sealFile(plain, sealed, PASSPHRASE, CHEAP);
    const whole = readFileSync(sealed);
    const parts = [0, 1, 2, 3].map((n) => whole.subarray(39 + n * 80, 39 + (n + 1) * 80));
    const joined = (...order: number[]) =>
      Buffer.concat([whole.subarray(0, 39), ...order.map((n) => parts[n] ?? Buffer.alloc(0))]);
    const bents = [
      ...Array.from({ length: whole.length }, (_, cut) => whole.subarray(0, cut)),
      joined(1, 0, 2, 3),
      joined(0, 2, 1, 3),
      joined(0, 1, 3),
      joined(0, 2, 3),
      joined(0, 1, 2),
      joined(0, 0, 1, 2, 3),
      joined(0, 1, 2, 3, 3),
      Buffer.concat([whole, Buffer.from([0])]),
    ];
    for (const [i, other] of bents.entries()) {
      writeFileSync(bent, other);
      await expect(unsealFile(bent, join(folder, `o${i}`), PASSPHRASE), `case ${i}`).rejects.toMatchObject({
        code: expect.stringMatching(/^(BACKUP_DAMAGED|PASSPHRASE_WRONG)$/),
      });
    }
    expect(joined(0, 1, 2, 3).equals(whole)).toBe(true);
  });

  it('is refused before any work where its header asks for a PC’s whole memory', async () => {
    const folder = tempFolder();
    const [plain, sealed] = ['plain', 'sealed'].map((name) => join(folder, name)) as [string, string];
    writeFileSync(plain, 'x');
    await sealFile(plain, sealed, PASSPHRASE, CHEAP);
    const whole = readFileSync(sealed);
    for (const [at, value] of [
      [8, 30],
      [8, 0],
      [9, 0],
      [9, 255],
      [10, 0],
      [10, 200],
      [12, 255],
    ] as const) {
      const other = Buffer.from(whole);
      if (at === 9 && value === 255) other[8] = 20;
      other[at] = value;
      writeFileSync(sealed, other);
      await expect(unsealFile(sealed, join(folder, 'o'), PASSPHRASE)).rejects.toMatchObject({ code: 'BACKUP_DAMAGED' });
    }
  });
});
