/** The program as a whole: version, help, wrong calls, the two streams. */
import { once } from 'node:events';
import { readFileSync } from 'node:fs';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { makeProgram, type Program } from '../support/run-program.ts';

describe('tallydock', () => {
  let program: Program;
  beforeAll(async () => {
    program = makeProgram();
    await program.run('replay', 'nowhere'); // makes the store that the lists look into
  });
  afterAll(() => program.dispose());

  it('prints the version of the package', async () => {
    const { version } = JSON.parse(readFileSync(new URL('../../package.json', import.meta.url), 'utf8'));
    for (const flag of ['--version', '-V'])
      expect(await program.run(flag)).toEqual({ code: 0, stdout: `${version}\n`, stderr: '' });
  });

  it.each([[['--help']], [['help']], [[]]])('lists its commands for %j', async (args) => {
    const ran = await program.run(...args);
    expect(ran).toMatchObject({ code: 0, stderr: '' });
    for (const name of [
      'collect',
      'replay',
      'ports',
      'export',
      'meters',
      'downloads',
      'readings',
      'incidents',
      'explain',
      'rebuild',
      'virtual-meter',
    ])
      expect(ran.stdout).toMatch(new RegExp(`^  ${name} `, 'm'));
    expect(ran.stdout).toContain('Not a medical device');
  });

  it('gives the help of one command in both ways', async () => {
    const [a, b] = [await program.run('collect', '--help'), await program.run('help', 'collect')];
    expect(a).toEqual(b);
    expect(a).toMatchObject({ code: 0, stderr: '', stdout: expect.stringContaining('Port Alder') });
  });

  it.each([
    [['colect'], 'colect'],
    [['help', 'colect'], 'colect'],
    [['readings', '--metre', 'X'], '--metre'],
    [['readings', '--meter'], '--meter'],
    [['readings', '--kind', 'urine'], 'urine'],
    [['readings', '--since', 'yesterday'], 'yesterday'],
    [['readings', 'too', 'many'], '2'],
    [['explain'], 'READING'],
    [['replay'], 'FILE'],
    [['export'], 'export'],
    [['export', 'xml'], 'xml'],
    [['export', 'csv', '--json'], '--json'],
    [['--data', 'x'], '--data'],
  ])('with the wrong call %j exits 2 with one line that names it', async (args, named) => {
    const ran = await program.run(...args);
    expect(ran).toMatchObject({ code: 2, stdout: '' });
    expect(ran.stderr).toMatch(/^tallydock: [^\n]+ \[CALL_WRONG\]\n$/);
    expect(ran.stderr).toContain(named);
  });

  it('says where it looked for a store that is not there, and exits 1', async () => {
    const ran = await program.run('meters', '--data', 'nowhere');
    expect(ran).toMatchObject({ code: 1, stdout: '' });
    expect(ran.stderr).toMatch(/^tallydock: [^\n]*nowhere[^\n]* \[STORE_MISSING\]\n$/);
  });

  it('is quiet when its reader goes away', async () => {
    const child = program.start('help');
    child.stdout?.destroy();
    let err = '';
    child.stderr?.on('data', (chunk: Buffer) => {
      err += chunk.toString();
    });
    expect((await once(child, 'close'))[0]).toBe(0);
    expect(err).toBe('');
  });

  it('prints nothing over again where stderr is no terminal', async () => {
    const ran = await program.run('ports');
    expect(ran.stderr).not.toContain('\u001b');
  });
});
