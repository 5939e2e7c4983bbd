/** `tallydock operators`: the way back in when a passphrase is forgotten, and who may sign in at all. */
import { chmodSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { describe, expect, it, onTestFinished } from 'vitest';
import { makeProgram } from '../support/run-program.ts';

function setting() {
  const program = makeProgram();
  onTestFinished(() => program.dispose());
  const file = join(program.data, 'words');
  const words = (text: string): string => {
    writeFileSync(file, `${text}\n`);
    chmodSync(file, 0o600);
    return file;
  };
  return { run: program.run, words };
}

describe('tallydock operators', () => {
  it('adds, lists and changes them, each change signed', async () => {
    const { run, words } = setting();
    expect((await run('operators', 'list')).code).toBe(1); // no store yet
    const added = await run(
      'operators',
      'add',
      'Rosa',
      '--role',
      'manage',
      '--passphrase-file',
      words('salt harbour nine'),
      '--by',
      'IT',
    );
    expect(added).toEqual({ code: 0, stdout: '', stderr: 'Rosa may sign in at the desk now.\n' });
    await run('operators', 'add', 'Tamsin', '--passphrase-file', words('seven grey gulls'));
    const { stdout } = await run('operators', 'list', '--json');
    expect(
      stdout
        .trim()
        .split('\n')
        .map((line) => JSON.parse(line)),
    ).toMatchObject([
      { name: 'Rosa', role: 'manage', retired_at: null },
      { name: 'Tamsin', role: 'work', retired_at: null },
    ]);
    expect(stdout).not.toContain('scrypt');
    expect((await run('operators', 'change', 'tamsin', '--retire')).stderr).toBe('Tamsin is changed.\n');
    expect((await run('operators', 'list')).stdout).toMatch(/Tamsin +work .*not since/);
    expect((await run('operators', 'change', 'Tamsin', '--return', '--role', 'look')).code).toBe(0);
  });

  it('refuses what would lock everybody out, and says what is wrong with a call', async () => {
    const { run, words } = setting();
    await run('operators', 'add', 'Rosa', '--role', 'manage', '--passphrase-file', words('salt harbour nine'));
    expect((await run('operators', 'change', 'Rosa', '--retire')).stderr).toContain('Somebody has to manage the desk');
    expect((await run('operators', 'change', 'Jory', '--role', 'look')).stderr).toContain('[OPERATOR_UNKNOWN]');
    expect((await run('operators', 'change', 'Rosa')).stderr).toContain('It is not said what to change');
    expect((await run('operators', 'change', 'Rosa', '--retire', '--return')).stderr).toContain(
      'go against each other',
    );
    expect((await run('operators', 'add', 'rosa', '--passphrase-file', words('salt harbour nine'))).stderr).toContain(
      'There is an operator "rosa" already',
    );
    expect((await run('operators', 'add', 'Jory', '--passphrase-file', words('short'))).code).toBe(2);
    expect(
      (await run('operators', 'add', 'Jory', '--role', 'king', '--passphrase-file', words('salt harbour nine'))).code,
    ).toBe(2);
  });
});
