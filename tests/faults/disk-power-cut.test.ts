/** Power cuts: the disk holds any beginning of what was written, and the store is whole at every one of them. */
import { spawn } from 'node:child_process';
import { once } from 'node:events';
import { copyFileSync, existsSync, readdirSync, readFileSync, statSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { setTimeout as wait } from 'node:timers/promises';
import { fileURLToPath } from 'node:url';
import { describe, expect, it } from 'vitest';
import { instant } from '../../src/core/instant.ts';
import { loadProfiles } from '../../src/intake/profile-library.ts';
import { openRecorder } from '../../src/intake/recorder.ts';
import { recoverAbandoned } from '../../src/intake/recover.ts';
import { replayCapture } from '../../src/intake/replay.ts';
import { takeInCapture } from '../../src/intake/take-in.ts';
import { makeBackup } from '../../src/store/backup.ts';
import { checkStore } from '../../src/store/check-store.ts';
import { restoreBackup } from '../../src/store/restore-backup.ts';
import type { Store } from '../../src/store/store.ts';
import { chanceFrom } from '../../src/virtual/chance.ts';
import { lifeOf } from '../intake/told-meter.ts';
import { tempFolder, tempStore } from '../store/temp-store.ts';

const SEED = Number(process.env['SEED'] ?? 20260302);
const profiles = loadProfiles('/nowhere');
const context = { now: instant(Date.UTC(2026, 5, 1)), actor: 'test' };
const MAIN = fileURLToPath(new URL('../../src/cli/main.ts', import.meta.url));
const stamps = (store: Store): string[] => [...store.readings.pages({})].flat().map((r) => r.record.meterTimeText);

describe('a power cut between any two writes', () => {
  it(`leaves the store as it was after some transaction, and the next start finishes the rest (SEED=${SEED})`, () => {
    const dir = tempFolder();
    const store = tempStore(dir);
    // Everything stays in the journal, so that its length tells what had been written by when.
    store.db.script('PRAGMA wal_checkpoint(TRUNCATE); PRAGMA wal_autocheckpoint = 0');
    const { captures, told } = lifeOf(SEED, 5, { runs: false, cuts: false });
    const wal = join(dir, 'tallydock.db-wal');
    const done: { length: number; readings: number }[] = [{ length: 0, readings: 0 }];
    for (const { chunks, closedAt, ...header } of captures) {
      const recorder = openRecorder(store, header);
      for (const chunk of chunks) {
        recorder.record(chunk);
        recorder.secure();
      }
      recorder.close(closedAt ?? header.openedAt);
      takeInCapture(store, recorder.captureNo, profiles, context);
      done.push({ length: statSync(wal).size, readings: stamps(store).length });
    }
    // The process that wrote all this is dead after the cut.
    store.db.script('UPDATE capture SET owner_pid = 0 WHERE owner_pid IS NOT NULL');
    const written = readFileSync(wal);
    const chance = chanceFrom(SEED);
    const cuts = [
      ...done.flatMap(({ length }) => [length - 1, length, length + 1]),
      ...Array.from({ length: 60 }, () => chance.whole(0, written.length)),
    ].filter((cut) => cut >= 0 && cut <= written.length);
    let unfinished = 0;
    for (const cut of cuts) {
      const after = tempFolder();
      copyFileSync(join(dir, 'tallydock.db'), join(after, 'tallydock.db'));
      writeFileSync(join(after, 'tallydock.db-wal'), written.subarray(0, cut));
      const found = tempStore(after);
      expect(checkStore(found).problems, `cut at ${cut}`).toEqual([]);
      const expected = done.findLast(({ length }) => length <= cut)?.readings ?? 0;
      expect(stamps(found), `cut at ${cut}`).toEqual(told.slice(0, expected).map((t) => t.stamp));
      found.db.script('UPDATE capture SET owner_pid = 0 WHERE owner_pid IS NOT NULL');
      unfinished += recoverAbandoned(found, profiles, context).length;
      for (const capture of captures) replayCapture(found, capture, profiles, context);
      expect(stamps(found), `cut at ${cut}`).toEqual(told.map((t) => t.stamp));
      found.close();
    }
    expect(unfinished).toBeGreaterThan(10);
  }, 120_000);
});

describe('a backup whose process group is killed at any moment', () => {
  it(`has its name only where it is whole, and what it left goes with the next one (SEED=${SEED})`, async () => {
    const dir = tempFolder();
    const store = tempStore(dir);
    for (const capture of lifeOf(SEED, 20, { runs: false }).captures) replayCapture(store, capture, profiles, context);
    const readings = stamps(store).length;
    const folder = tempFolder();
    const chance = chanceFrom(SEED);
    let killed = 0;
    for (let n = 0; n < 10; n++) {
      const file = join(folder, `${n}.db`);
      const child = spawn(process.execPath, ['--import', 'tsx', MAIN, 'backup', '--data', dir, file], {
        stdio: 'ignore',
        detached: process.platform !== 'win32',
      });
      const gone = once(child, 'exit');
      // From when its first file is there to a moment later: that is where it writes, proves and renames.
      while (
        readdirSync(folder).every((name) => !name.endsWith('.draft')) &&
        child.exitCode === null &&
        !existsSync(file)
      )
        await wait(2);
      await wait(chance.whole(0, 60));
      if (child.exitCode === null && child.pid !== undefined) {
        killed++;
        if (process.platform === 'win32') child.kill('SIGKILL');
        else process.kill(-child.pid, 'SIGKILL');
      }
      await gone;
      if (!existsSync(file)) continue;
      const target = tempFolder();
      const { rows } = await restoreBackup({ ...context, file, dir: target, passphrase: async () => '' });
      expect(rows['reading']).toBe(readings);
    }
    expect(killed).toBeGreaterThan(4);
    await makeBackup({ dir, ...context }, join(folder, 'last.db'));
    expect(readdirSync(folder).filter((name) => !/^(\d|last)\.db$/.test(name))).toEqual([]);
    expect(checkStore(store).problems).toEqual([]);
  }, 120_000);
});
