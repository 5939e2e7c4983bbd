/** backup, restore and their passphrases, and the export of captures, by the built program. */
import { chmodSync, existsSync, mkdtempSync, readdirSync, statSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { parse } from 'csv-parse/sync';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { generateHistory } from '../../src/virtual/history.ts';
import { formatCapture } from '../../src/wire/capture-file.ts';
import { lifeOf } from '../intake/told-meter.ts';
import { makeProgram, type Program } from '../support/run-program.ts';

const SEED = Number(process.env['SEED'] ?? 20260302);
const { captures, told } = lifeOf(SEED, 3, { runs: false });

describe('backup and restore', () => {
  let program: Program;
  let there: string;
  beforeAll(async () => {
    program = makeProgram();
    there = join(program.data, 'copies');
    const files = captures.map((capture, i) => {
      const file = join(program.data, `${i}.capture.jsonl`);
      writeFileSync(file, formatCapture(capture));
      return file;
    });
    expect(await program.run('replay', ...files)).toMatchObject({ code: 0, stderr: '' });
  });
  afterAll(() => program.dispose());

  it('bring back every reading into an empty folder', async () => {
    const file = join(program.data, 'b.db');
    const made = await program.run('backup', file);
    expect(made).toMatchObject({ code: 0, stderr: '' });
    expect(made.stdout).toContain(`Wrote and verified ${file} (${told.length} readings from 3 conversations`);
    const restored = join(program.data, 'restored');
    expect(await program.run('restore', file, '--data', restored)).toMatchObject({ code: 0, stderr: '' });
    const before = await program.run('export', 'csv');
    expect((await program.run('export', 'csv', '--data', restored)).stdout).toBe(before.stdout);
    expect((await program.run('rebuild', '--data', restored)).stdout).toContain('Identical');
  });

  it('say in one line why they do not overwrite anything', async () => {
    const file = join(program.data, 'c.db');
    expect((await program.run('backup', file)).code).toBe(0);
    const again = await program.run('backup', file);
    expect(again).toMatchObject({ code: 1, stdout: '' });
    expect(again.stderr).toMatch(/^tallydock: .* is there already\. .*\[FILE_UNWRITABLE\]\n$/);
    const over = await program.run('restore', file);
    expect(over).toMatchObject({ code: 1, stdout: '' });
    expect(over.stderr).toMatch(/^tallydock: There is a store already.*\[STORE_EXISTS\]\n$/);
  });

  it('keep as many dated copies as were asked for, and tell it as JSON', async () => {
    for (let i = 0; i < 3; i++) {
      const { code, stdout } = await program.run('backup', '--keep', '1', there, '--json');
      expect(code).toBe(0);
      expect(JSON.parse(stdout)).toMatchObject({ readings: told.length, conversations: 3, encrypted: false });
      expect(readdirSync(there)).toHaveLength(1);
      // Names tell the second: the next backup must not meet its own name.
      const second = Math.floor(Date.now() / 1000);
      while (Math.floor(Date.now() / 1000) === second) await new Promise((done) => setTimeout(done, 20));
    }
  });

  it('take the passphrase from the environment or a file of one’s own, and never from the command line', async () => {
    const words = 'gulls over the breakwater';
    const secret = join(program.data, 'secret');
    writeFileSync(secret, `${words}\n`);
    chmodSync(secret, 0o600);
    const file = join(program.data, 'd.sealed');
    const made = await program.run('backup', '--encrypt', '--passphrase-file', secret, file);
    expect(made).toMatchObject({ code: 0, stderr: '' });
    expect(made.stdout).toContain('encrypted');
    const [wrong, right] = [
      makeProgram({ TALLYDOCK_PASSPHRASE: 'gulls' }),
      makeProgram({ TALLYDOCK_PASSPHRASE: words }),
    ];
    try {
      const refused = await wrong.run('restore', file);
      expect(refused).toMatchObject({ code: 2, stdout: '' });
      expect(refused.stderr).toMatch(/passphrase is wrong.*\[PASSPHRASE_WRONG\]\n$/);
      expect(existsSync(join(wrong.data, 'tallydock.db'))).toBe(false);
      expect(await right.run('restore', file)).toMatchObject({ code: 0, stderr: '' });
    } finally {
      wrong.dispose();
      right.dispose();
    }
    const { stdout } = await program.run('backup', '--help');
    expect(stdout).not.toMatch(/--passphrase[ =]</);
  });

  it('refuse a passphrase that is short, that others can read, or that nobody gave', async () => {
    const file = join(program.data, 'e.sealed');
    const secret = join(program.data, 'open-secret');
    writeFileSync(secret, 'short\n');
    chmodSync(secret, 0o600);
    const short = await program.run('backup', '--encrypt', '--passphrase-file', secret, file);
    expect(short).toMatchObject({ code: 2, stderr: expect.stringContaining('shorter than 8') });
    if (process.platform !== 'win32') {
      chmodSync(secret, 0o644);
      const open = await program.run('backup', '--encrypt', '--passphrase-file', secret, file);
      expect(open).toMatchObject({ code: 2, stderr: expect.stringContaining('Others may read') });
    }
    const none = await program.run('backup', '--encrypt', file);
    expect(none).toMatchObject({ code: 2, stderr: expect.stringContaining('TALLYDOCK_PASSPHRASE') });
    expect(existsSync(file)).toBe(false);
  });
});

describe('export captures', () => {
  let program: Program;
  beforeAll(async () => {
    program = makeProgram();
    const { captures: shared } = generateHistory({
      seed: SEED,
      world: 'drift-only',
      protocol: 'line',
      use: 'shared',
      zone: 'Europe/Lisbon',
      days: 40,
    });
    const files = [...shared.slice(0, 2), ...captures].map((capture, i) => {
      const file = join(program.data, `${i}.capture.jsonl`);
      writeFileSync(file, formatCapture(capture));
      return file;
    });
    expect((await program.run('replay', ...files)).code).toBe(0);
  });
  afterAll(() => program.dispose());

  const exported = async (...options: string[]): Promise<string[]> => {
    const folder = mkdtempSync(join(program.data, 'out-'));
    expect(await program.run('export', 'captures', '--out', folder, ...options)).toMatchObject({ code: 0, stdout: '' });
    return readdirSync(folder).map((name) => join(folder, name));
  };
  /** The CSV of a fresh store that took these files. */
  const csvOf = async (files: readonly string[]): Promise<Record<string, string>[]> => {
    const other = makeProgram();
    expect((await other.run('replay', ...files)).code).toBe(0);
    const { stdout } = await other.run('export', 'csv');
    other.dispose();
    return parse(stdout, { columns: true, record_delimiter: '\r\n' });
  };

  it('writes files that give the same store again, for their owner only', async () => {
    const files = await exported();
    expect(files).toHaveLength(2 + captures.length);
    if (process.platform !== 'win32') for (const file of files) expect(statSync(file).mode & 0o777).toBe(0o600);
    const { stdout } = await program.run('export', 'csv');
    expect(await csvOf(files)).toEqual(parse(stdout, { columns: true, record_delimiter: '\r\n' }));
  });

  it('writes masked files that give the same readings under other names', async () => {
    const { stdout } = await program.run('export', 'csv');
    const before: Record<string, string>[] = parse(stdout, { columns: true, record_delimiter: '\r\n' });
    const after = await csvOf(await exported('--masked'));
    const nameless = (rows: readonly Record<string, string>[]) =>
      rows.map(({ patient_id, operator, ...row }) => ({
        ...row,
        hasPatient: patient_id !== '',
        hasOperator: operator !== '',
      }));
    expect(nameless(after)).toEqual(nameless(before));
    const names = new Set(before.map((row) => row['patient_id']).filter((name) => name !== ''));
    expect(names.size).toBeGreaterThan(3);
    for (const row of after) expect(names.has(row['patient_id'])).toBe(false);
  });

  it('writes only what was asked for, and into an empty folder only', async () => {
    expect(await exported('--meter', 'PA00042')).toHaveLength(captures.length);
    expect(await exported('--until', '2001-01-01')).toHaveLength(0);
    const refused = await program.run('export', 'captures', '--out', program.data);
    expect(refused).toMatchObject({ code: 1, stdout: '', stderr: expect.stringContaining('is not empty') });
  });
});
