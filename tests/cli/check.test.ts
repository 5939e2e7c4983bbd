/** check: one line for each thing that was looked at, honest about what is not known, by the built program. */
import { chmodSync, readdirSync, readFileSync, statSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { afterEach, beforeEach, describe, expect, it } from 'vitest';
import {
  backupFinding,
  checkFault,
  clockFinding,
  portFinding,
  rightsFinding,
  spaceFinding,
} from '../../src/cli/check-findings.ts';
import { instant } from '../../src/core/instant.ts';
import { openSqlite } from '../../src/store/sqlite.ts';
import { formatCapture } from '../../src/wire/capture-file.ts';
import { lifeOf } from '../intake/told-meter.ts';
import { makeProgram, type Program } from '../support/run-program.ts';

const SEED = Number(process.env['SEED'] ?? 20260302);
const NOW = instant(Date.UTC(2026, 5, 1, 9, 30, 0));
const HOUR = 3_600_000;

describe('check', () => {
  let program: Program;
  beforeEach(async () => {
    program = makeProgram();
    if (process.platform !== 'win32') chmodSync(program.data, 0o700);
    const file = join(program.data, 'x.capture.jsonl');
    const [capture] = lifeOf(SEED, 1, { runs: false }).captures;
    writeFileSync(file, capture ? formatCapture(capture) : '');
    expect((await program.run('replay', file)).code).toBe(0);
  });
  afterEach(() => program.dispose());

  /** Every finding but the one about this machine's own clock, which is as it is. */
  const findings = async (): Promise<Record<string, string>[]> =>
    JSON.parse((await program.run('check', '--json')).stdout).findings.filter(
      (finding: Record<string, string>) => finding['about'] !== 'clock',
    );
  const todo = async (): Promise<Record<string, string>[]> => (await findings()).filter((f) => f['state'] === 'do');

  it('finds nothing to do where all is well, and looks at everything', async () => {
    expect(await todo()).toEqual([]);
    expect((await findings()).map((f) => f['about'])).toEqual([
      'store',
      'audit',
      'space',
      'rights',
      'config',
      'profiles',
      'backup',
    ]);
    const { stdout, stderr, code } = await program.run('check');
    expect(stdout).toMatch(/^good +store +whole: \d+ readings from 1 conversations\.$/m);
    // The clock of the machine that runs this test decides alone; whatever it says must be said alike everywhere.
    expect(code).toBe(/^do {8}/m.test(stdout) ? 1 : 0);
    expect(stderr === '').toBe(code === 0);
  });

  it('finds what was changed in the store, says what to do, and leaves with 1', async () => {
    const db = openSqlite(join(program.data, 'tallydock.db'));
    db.exec("DROP TRIGGER audit_keeps_rows; UPDATE audit SET actor = 'nobody'; UPDATE capture SET zone = 'UTC'");
    db.close();
    const found = await todo();
    expect(found.map((f) => f['about'])).toEqual(['store', 'audit']);
    for (const finding of found) expect(finding['next']).toMatch(/\w{3}/);
    const ran = await program.run('check', '--quiet');
    expect(ran.code).toBe(1);
    expect(
      ran.stdout
        .split('\n')
        .filter(Boolean)
        .every((line) => line.startsWith('do')),
    ).toBe(true);
    expect(ran.stderr).toMatch(/\d things? needs? somebody.*\[CHECK_FAILED\]\n$/);
  });

  it('finds files that others may read before anything closes them', async () => {
    if (process.platform === 'win32') {
      expect((await findings()).find((f) => f['about'] === 'rights')).toMatchObject({ state: 'not known' });
      return;
    }
    chmodSync(join(program.data, 'tallydock.db'), 0o644);
    const [finding, ...more] = await todo();
    expect(more).toEqual([]);
    expect(finding).toMatchObject({ about: 'rights', next: expect.stringContaining('chmod 600') });
  });

  it('finds a wrong config by line and key, and a profile that a dock asks for in vain', async () => {
    writeFileSync(join(program.data, 'config.toml'), 'zone = "Europe/Lisbon"\nzoen = 1\n');
    expect(await todo()).toMatchObject([{ about: 'config', message: expect.stringMatching(/line 2.*"zoen"/) }]);
    writeFileSync(
      join(program.data, 'config.toml'),
      '[[dock]]\nname = "front desk"\nport = "/dev/ttyUSB99"\nprofile = "no-such-meter"\n[[dock]]\nname = "ward"\nport = "tcp://192.0.2.1:4001"\n',
    );
    expect(await todo()).toMatchObject([{ about: 'profiles', message: expect.stringContaining('no-such-meter') }]);
    const ports = (await findings()).filter((f) => f['about'] === 'port');
    expect(ports.map((f) => f['state'])).toEqual(['note', 'not known']);
  });

  it('finds that automatic backups are wanted and not there, until one is', async () => {
    const folder = join(program.data, 'copies');
    writeFileSync(join(program.data, 'config.toml'), `[backup]\nfolder = ${JSON.stringify(folder)}\n`);
    expect(await todo()).toMatchObject([{ about: 'backup' }]);
    expect((await program.run('backup', '--keep', '3', folder)).code).toBe(0);
    expect(await todo()).toEqual([]);
  });

  describe('about automatic backups', () => {
    const folder = (): string => join(program.data, 'copies');
    const words = (): string => join(program.data, 'words');
    const backups = async (): Promise<Record<string, string>[]> =>
      (await findings()).filter((f) => f['about'] === 'backup');
    const wanted = (more = ''): void =>
      writeFileSync(join(program.data, 'config.toml'), `[backup]\nfolder = ${JSON.stringify(folder())}\n${more}`);
    const sealed = (): void => wanted(`passphrase-file = ${JSON.stringify(words())}\n`);
    const backUp = async (...options: string[]): Promise<string> => {
      const ran = await program.run('backup', '--keep', '3', ...options, '--json', folder());
      expect(ran.code).toBe(0);
      return JSON.parse(ran.stdout).file;
    };
    const flip = (file: string, at: number): void => {
      const bytes = readFileSync(file);
      bytes[at] = (bytes[at] ?? 0) ^ 1;
      writeFileSync(file, bytes);
    };

    it('opens the newest and finds it whole, or damaged', async () => {
      wanted();
      const file = await backUp();
      expect(await backups()).toMatchObject([
        { state: 'good' },
        { state: 'good', message: expect.stringMatching(/whole: \d+ readings/) },
      ]);
      const db = openSqlite(file);
      db.exec("DROP TRIGGER audit_keeps_rows; UPDATE audit SET actor = 'nobody'");
      db.close();
      expect(await todo()).toMatchObject([{ about: 'backup', message: expect.stringContaining('not a whole backup') }]);
    });

    it('opens a sealed one with the passphrase file of the config, and leaves nothing of it behind', async () => {
      writeFileSync(words(), 'a gull over Port Alder\n', { mode: 0o600 });
      sealed();
      const file = await backUp('--encrypt', '--passphrase-file', words());
      const before = readdirSync(program.data).sort();
      expect((await backups()).map((f) => f['state'])).toEqual(['good', 'good']);
      expect(readdirSync(program.data).sort()).toEqual(before);
      writeFileSync(words(), 'another gull over Port Alder\n');
      expect(await todo()).toMatchObject([{ about: 'backup', message: expect.stringContaining('does not open') }]);
      writeFileSync(words(), 'a gull over Port Alder\n');
      flip(file, statSync(file).size - 1);
      expect(await todo()).toMatchObject([{ about: 'backup' }]);
    });

    it('does not call a sealed one good whose passphrase it does not have', async () => {
      writeFileSync(words(), 'a gull over Port Alder\n', { mode: 0o600 });
      wanted();
      await backUp('--encrypt', '--passphrase-file', words());
      expect((await backups()).map((f) => f['state'])).toEqual(['good', 'not known']);
    });

    it('finds a passphrase file that is missing, empty or open to others, and names its key', async () => {
      sealed();
      await backUp();
      const said = async (): Promise<unknown> => (await todo()).map((f) => f['message']);
      expect(await said()).toEqual([expect.stringMatching(/^config.toml, "passphrase-file" .*There is no file/)]);
      writeFileSync(words(), '', { mode: 0o600 });
      expect(await said()).toEqual([expect.stringContaining('holds no passphrase')]);
      if (process.platform !== 'win32') {
        writeFileSync(words(), 'a gull over Port Alder\n');
        chmodSync(words(), 0o640);
        expect(await said()).toEqual([expect.stringMatching(/"passphrase-file" .*Others may read/)]);
      }
      expect((await backups()).find((f) => f['state'] === 'note')?.['message']).toContain('not encrypted');
    });
  });

  it('says that there is no store where there is none', async () => {
    const empty = makeProgram();
    const ran = await empty.run('check', '--json');
    expect(ran.code).toBe(1);
    expect(JSON.parse(ran.stdout).findings[0]).toMatchObject({ about: 'store', state: 'do' });
    empty.dispose();
  });
});

describe('a finding', () => {
  it('about the clock never calls good what is not known', () => {
    const kinds = [
      clockFinding({ kind: 'kept', by: 'chrony', offByS: 0.01 }, NOW, undefined),
      clockFinding({ kind: 'not kept', why: 'it is switched off' }, NOW, undefined),
      clockFinding({ kind: 'not known', why: 'no tool answers' }, NOW, undefined),
      clockFinding({ kind: 'kept', by: 'chrony' }, NOW, instant(NOW + HOUR)),
      clockFinding({ kind: 'kept', by: 'chrony' }, NOW, instant(NOW + 30_000)),
    ];
    expect(kinds.map(({ state }) => state)).toEqual(['good', 'do', 'not known', 'do', 'good']);
  });

  it('about anything else that could not be looked at is not called good either', () => {
    expect(spaceFinding('not known', undefined, 'D').state).toBe('not known');
    expect(rightsFinding('not known').map(({ state }) => state)).toEqual(['not known']);
    expect(portFinding('ward', 'tcp://192.0.2.1:4001', undefined).state).toBe('not known');
  });

  it('about backups allows for a night with the PC switched off, and no more', () => {
    const wanted = { folder: 'D', everyHours: 24 };
    const state = (hours: number) => backupFinding(wanted, instant(NOW - hours * HOUR), NOW).state;
    expect([0, 24, 59, 60, 1000].map(state)).toEqual(['good', 'good', 'good', 'do', 'do']);
    expect(backupFinding(wanted, undefined, NOW).state).toBe('do');
    expect(backupFinding(undefined, undefined, NOW).state).toBe('note');
  });

  it('counts against the exit code only where somebody must do something', () => {
    const of = (state: 'good' | 'note' | 'not known' | 'do') => ({ state, about: 'x', message: 'y', next: 'z' });
    expect(checkFault([of('good'), of('note'), of('not known')])).toBeUndefined();
    expect(checkFault([of('do'), of('good'), of('do')])).toMatchObject({ code: 'CHECK_FAILED', exitCode: 1 });
  });
});
