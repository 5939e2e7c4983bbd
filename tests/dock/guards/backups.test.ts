/** Automatic backups: when the next one is due, and what a backup in a process of its own tells when it fails. */
import { readdirSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { describe, expect, it } from 'vitest';
import { type Instant, instant } from '../../../src/core/instant.ts';
import { backUpApart, faultOf } from '../../../src/dock/guards/backup-apart.ts';
import { isBackupDue } from '../../../src/dock/guards/backup-schedule.ts';
import { isSealed } from '../../../src/store/seal-backup.ts';
import { tempFolder, tempStore } from '../../store/temp-store.ts';

const NOW = instant(Date.UTC(2026, 5, 1, 9, 30, 0));
const MINUTE = 60_000;
const ago = (minutes: number): Instant => instant(NOW - minutes * MINUTE);

describe('an automatic backup', () => {
  it('is due where there is none, and again when the newest is old enough', () => {
    expect(isBackupDue(24, { failures: 0 }, NOW)).toBe(true);
    expect(isBackupDue(24, { failures: 0, newest: ago(24 * 60 - 1) }, NOW)).toBe(false);
    expect(isBackupDue(24, { failures: 0, newest: ago(24 * 60) }, NOW)).toBe(true);
  });

  it('is not put off by one that lies in the future, nor by a try there: the PC’s clock was put back', () => {
    expect(isBackupDue(24, { failures: 0, newest: ago(-60) }, NOW)).toBe(true);
    expect(isBackupDue(24, { failures: 3, newest: ago(-60), lastTryAt: ago(-60) }, NOW)).toBe(true);
  });

  it('is tried again after a failure on a ladder with a ceiling, and at once after a success', () => {
    const wait = (failures: number): number => {
      for (let minutes = 0; ; minutes++)
        if (isBackupDue(24, { failures, lastTryAt: ago(minutes) }, NOW)) return minutes;
    };
    expect([1, 2, 3, 4, 5, 6, 50].map(wait)).toEqual([5, 10, 20, 40, 60, 60, 60]);
    expect(wait(0)).toBe(0);
  });
});

describe('a backup in a process of its own', () => {
  const program = ['--import', 'tsx', fileURLToPath(new URL('../../../src/cli/main.ts', import.meta.url))];

  it('makes a dated file, and keeps only as many as were asked for', async () => {
    const dataDir = tempFolder();
    tempStore(dataDir);
    const folder = tempFolder();
    writeFileSync(join(folder, 'tallydock-2026-03-02T10-15-00Z.db'), 'older');
    await backUpApart({ program, dataDir, folder, keep: 1 });
    const [only, ...more] = readdirSync(folder);
    expect(more).toEqual([]);
    expect(only).toMatch(/^tallydock-.*Z\.db$/);
    expect(only).not.toContain('2026-03-02');
  });

  it('is sealed where a passphrase file is named, and counts with those that are not', async () => {
    const dataDir = tempFolder();
    tempStore(dataDir);
    const folder = tempFolder();
    const passphraseFile = join(tempFolder(), 'words');
    writeFileSync(passphraseFile, 'a gull over Port Alder\n', { mode: 0o600 });
    for (const older of ['tallydock-2026-03-02T10-15-00Z.db', 'tallydock-2026-03-03T10-15-00Z.sealed'])
      writeFileSync(join(folder, older), 'older');
    await backUpApart({ program, dataDir, folder, keep: 2, passphraseFile });
    const names = readdirSync(folder).sort();
    expect(names).toEqual(['tallydock-2026-03-03T10-15-00Z.sealed', expect.stringMatching(/Z\.sealed$/)]);
    expect(await isSealed(join(folder, names[1] ?? ''))).toBe(true);
  });

  it.skipIf(process.platform === 'win32')('is not made where others may read its passphrase', async () => {
    const dataDir = tempFolder();
    tempStore(dataDir);
    const folder = tempFolder();
    const passphraseFile = join(tempFolder(), 'words');
    writeFileSync(passphraseFile, 'a gull over Port Alder\n', { mode: 0o644 });
    const call = { program, dataDir, folder, keep: 2, passphraseFile };
    await expect(backUpApart(call)).rejects.toMatchObject({ code: 'FILE_UNREADABLE' });
    expect(readdirSync(folder)).toEqual([]);
  });

  it('rejects with the fault that it told', async () => {
    const call = { program, dataDir: tempFolder(), folder: tempFolder(), keep: 1 };
    await expect(backUpApart(call)).rejects.toMatchObject({ code: 'STORE_MISSING' });
    await expect(backUpApart({ ...call, program: ['-e', '0', '--'] })).resolves.toBeUndefined();
    await expect(backUpApart({ ...call, program: ['-e', 'process.exit(3)', '--'] })).rejects.toMatchObject({
      code: 'INTERNAL',
    });
  });

  it('reads the fault out of the last line, and nothing out of any other text', () => {
    const said = 'a warning\ntallydock: D cannot be written: no room. Check the folder. [FILE_UNWRITABLE]\n';
    expect(faultOf(said)).toMatchObject({
      code: 'FILE_UNWRITABLE',
      message: 'D cannot be written: no room. Check the folder',
    });
    for (const text of ['', 'tallydock: x [NO_SUCH_CODE]', 'Segmentation fault'])
      expect(faultOf(text).code).toBe('INTERNAL');
  });
});
