/** `tallydock outlet`: adding, watching, pausing, replaying, and the daemon and `send` that feed outlets. */
import { chmodSync, existsSync, readdirSync, readFileSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, it, onTestFinished } from 'vitest';
import { controlClient } from '../../src/dock/control/client.ts';
import { openStore } from '../../src/store/open-store.ts';
import { FIRST_TEST, type MadeStore, madeStore } from '../outlets/made-store.ts';
import { makePostgres, type PostgresServer } from '../support/postgres.ts';
import { runDaemon, writeDocks } from '../support/run-daemon.ts';
import { makeProgram, type Program } from '../support/run-program.ts';
import { until } from '../support/until.ts';

/** A program whose store holds some readings, and where its CSV outlet writes. */
function setting(readings = 5, env: Record<string, string> = {}) {
  const program = makeProgram(env);
  onTestFinished(() => program.dispose());
  const folder = join(program.data, 'table');
  withStore(program, ({ add }) => add(readings));
  const rows = (): string[] =>
    existsSync(folder)
      ? readdirSync(folder)
          .filter((name) => name.endsWith('.csv'))
          .flatMap((name) => readFileSync(join(folder, name), 'utf8').trim().split('\r\n').slice(1))
      : [];
  const addCsv = (...more: string[]) =>
    program.run('outlet', 'add', 'table', 'csv', '--set', `folder=${folder}`, ...more);
  return { program, folder, rows, addCsv };
}

/** Does something with the store of a program while none runs, or beside it. */
function withStore<T>(program: Program, work: (made: MadeStore) => T): T {
  const made = madeStore(program.data);
  try {
    return work(made);
  } finally {
    made.store.close();
  }
}

describe('outlet add', () => {
  it('adds an outlet that "outlet send" feeds once, and list shows it', async () => {
    const { program, rows, addCsv } = setting();
    expect(await addCsv()).toMatchObject({ code: 0, stderr: expect.stringContaining('is added') });
    expect(await program.run('outlet', 'send')).toEqual({ code: 0, stdout: 'table: 5 sent\n', stderr: '' });
    expect(await program.run('outlet', 'send')).toEqual({ code: 0, stdout: 'table: 0 sent\n', stderr: '' });
    expect(rows()).toHaveLength(10);
    const listed = JSON.parse((await program.run('outlet', 'list', '--json')).stdout);
    expect(listed).toMatchObject({
      name: 'table',
      kind: 'csv',
      state: 'running',
      waiting: 0,
      set_aside: 0,
      trouble: null,
    });
  });

  it.each<[string, string[], RegExp]>([
    ['a kind that is not there', ['a', 'paper'], /no kind of outlet "paper"/],
    ['a setting that is missing', ['a', 'csv'], /"folder" is missing/],
    ['a setting that is not one', ['a', 'csv', '--set', 'folder=x', 'colour=red'], /"colour" is not a setting/],
    ['a setting that is wrong', ['a', 'csv', '--set', 'folder=x', 'files=weekly'], /"files" must be daily or one/],
    ['a setting without a value', ['a', 'csv', '--set', 'folder'], /is not NAME=VALUE/],
    ['a kind of reading that is not one', ['a', 'csv', '--set', 'folder=x', '--kinds', 'glucose'], /--kinds/],
    ['no key for pseudonyms', ['a', 'csv', '--set', 'folder=x', '--de-identified'], /needs a key/],
    ['a site without a name', ['a', 'hl7-file', '--set', 'folder=x'], /config.toml/],
  ])('refuses %s, and stores nothing', async (_, args, said) => {
    const { program } = setting(1);
    expect(await program.run('outlet', 'add', ...args)).toMatchObject({ code: 2, stderr: expect.stringMatching(said) });
    expect((await program.run('outlet', 'list')).stdout).toBe('No outlet is added.\n');
  });

  it('takes a number and a truth value where a setting wants one', async () => {
    const { program } = setting(1);
    writeFileSync(join(program.data, 'config.toml'), 'site = "Port Alder"\n');
    const set = ['--set', 'host=127.0.0.1', 'port=2575', 'tls=false'];
    expect(await program.run('outlet', 'add', 'lab', 'hl7-mllp', ...set)).toMatchObject({ code: 0 });
  });

  it('refuses a name that there is already', async () => {
    const { addCsv } = setting(1);
    await addCsv();
    expect(await addCsv()).toMatchObject({ code: 2, stderr: expect.stringContaining('already') });
  });

  it('begins with what comes from now on where that is asked for', async () => {
    const { program, rows, addCsv } = setting();
    await addCsv('--from-now');
    withStore(program, ({ add }) => add(2));
    await program.run('outlet', 'send');
    expect(rows()).toHaveLength(4);
  });

  it('keeps a key beside the store and never in it; another key is noticed', async () => {
    const { program, folder, rows, addCsv } = setting();
    const key = join(program.data, 'research.key');
    expect(await addCsv('--key-file', key)).toMatchObject({ code: 0 });
    await program.run('outlet', 'send');
    expect(rows().join()).not.toMatch(/ALDER|PA00042|rosa|2026-/);
    // Neither the rows nor the name of the file say when anything was.
    expect(readdirSync(folder).filter((name) => name.endsWith('.csv'))).toEqual(['readings-2000-01-01.csv']);
    const secret = readFileSync(key, 'utf8').trim();
    expect(readFileSync(join(program.data, 'tallydock.db')).includes(secret)).toBe(false);
    chmodSync(key, 0o600);
    writeFileSync(key, 'another one\n');
    expect(await program.run('outlet', 'try', 'table')).toMatchObject({
      code: 2,
      stderr: expect.stringContaining('not the one'),
    });
  });
});

describe('outlet pause, resume, replay and remove', () => {
  it('pause lets everything wait, resume goes on', async () => {
    const { program, rows, addCsv } = setting();
    await addCsv();
    await program.run('outlet', 'pause', 'table');
    expect((await program.run('outlet', 'send')).stdout).toBe('No outlet is added, or all are paused.\n');
    expect(await program.run('outlet', 'send', 'table')).toEqual({
      code: 2,
      stdout: '',
      stderr: 'tallydock: Outlet "table" is paused. "tallydock outlet resume table" feeds it again. [NOT_POSSIBLE]\n',
    });
    expect((await program.run('outlet', 'list')).stdout).toMatch(/table +csv +is paused +5/);
    await program.run('outlet', 'resume', 'table');
    await program.run('outlet', 'send');
    expect(rows()).toHaveLength(10);
  });

  it('replay hands over again what a receiver has lost, and nothing that it has', async () => {
    const { program, folder, rows, addCsv } = setting();
    await addCsv();
    await program.run('outlet', 'send');
    const [file = ''] = readdirSync(folder).filter((name) => name.endsWith('.csv'));
    const lines = readFileSync(join(folder, file), 'utf8').split('\r\n');
    writeFileSync(join(folder, file), [...lines.slice(0, 3), ...lines.slice(5)].join('\r\n')); // one reading is lost
    const before = rows().length;
    expect(await program.run('outlet', 'replay', 'table', '--all')).toMatchObject({ code: 0 });
    expect((await program.run('outlet', 'send')).stdout).toBe('table: 5 sent\n');
    expect([before, rows().length, new Set(rows()).size]).toEqual([8, 10, 10]);
    expect(await program.run('outlet', 'replay', 'table')).toMatchObject({ code: 2 });
    expect(await program.run('outlet', 'replay', 'table', '--since', '2031-01-01', '--json')).toMatchObject({
      code: 0,
      stdout: '{"name":"table","state":"running"}\n',
    });
    expect((await program.run('outlet', 'send')).stdout).toBe('table: 0 sent\n');
  });

  it('remove forgets it, and every change stands in the audit chain', async () => {
    const { program, addCsv } = setting();
    await addCsv('--by', 'rosa');
    for (const form of ['pause', 'resume', 'remove']) await program.run('outlet', form, 'table', '--by', 'rosa');
    expect(await program.run('outlet', 'pause', 'table')).toMatchObject({
      code: 2,
      stderr: expect.stringContaining('OUTLET_UNKNOWN'),
    });
    const store = openStore({ dir: program.data, now: FIRST_TEST });
    const audit = store.audit.list().filter((row) => row.action.startsWith('outlet-'));
    store.close();
    expect(audit.map((row) => [row.actor, row.action, row.subject])).toEqual(
      ['added', 'paused', 'resumed', 'removed'].map((what) => ['rosa', `outlet-${what}`, 'table']),
    );
  });
});

describe('an outlet that cannot be reached', () => {
  it('is said by try, send and list, with what to do, and leaves with 3', async () => {
    const { program, folder, addCsv } = setting();
    await addCsv();
    writeFileSync(folder, 'a file in the place of the folder');
    expect(await program.run('outlet', 'try', 'table')).toMatchObject({
      code: 1,
      stderr: expect.stringContaining('OUTLET_DOWN'),
    });
    const sent = await program.run('outlet', 'send');
    expect(sent).toMatchObject({
      code: 3,
      stdout: 'table: 0 sent; the rest waits\n',
      stderr: expect.stringContaining('OUTLET_DOWN'),
    });
  });
});

describe('the daemon', () => {
  it('feeds outlets by itself, shows their lag, and follows what other programs change', async () => {
    const { program, rows, addCsv } = setting();
    writeDocks(program, ['tcp://127.0.0.1:1']);
    const daemon = await runDaemon(program, '--quiet');
    onTestFinished(async () => void (await daemon.signal('SIGTERM')));
    await addCsv();
    await until(() => rows().length === 10);
    withStore(program, ({ add }) => add(3));
    await until(() => rows().length === 16);
    const client = controlClient(program.data);
    await until(async () => (await client.status()).outlets[0]?.waiting === 0);
    const [outlet] = (await client.status()).outlets;
    expect(outlet).toMatchObject({ name: 'table', kind: 'csv', state: 'running', waiting: 0, setAside: 0 });
    expect((await program.run('status', '--metrics')).stdout).toContain('tallydock_outlet_waiting{outlet="table"} 0');
    expect(await program.run('outlet', 'send')).toMatchObject({
      code: 1,
      stderr: expect.stringContaining('STORE_BUSY'),
    });
    await program.run('outlet', 'pause', 'table');
    withStore(program, ({ add }) => add(1));
    await until(async () => (await client.status()).outlets[0]?.waiting === 1);
    expect(rows()).toHaveLength(16);
    await program.run('outlet', 'resume', 'table');
    await until(() => rows().length === 18);
  }, 60_000);

  it('reads on and says it where an outlet cannot be reached, without a name in its log', async () => {
    const { program, folder, addCsv } = setting();
    await addCsv();
    writeFileSync(folder, 'a file in the place of the folder');
    writeDocks(program, ['tcp://127.0.0.1:1']);
    const daemon = await runDaemon(program, '--quiet');
    onTestFinished(async () => void (await daemon.signal('SIGTERM')));
    const client = controlClient(program.data);
    await until(async () => (await client.status()).outlets[0]?.trouble?.code === 'OUTLET_DOWN');
    const shown = (await program.run('status')).stdout;
    expect(shown).toMatch(/table +csv +cannot be reached; tries again at/);
    expect(shown).toContain('[OUTLET_DOWN, ');
    const log = join(program.data, 'log');
    await until(() =>
      readdirSync(log).some((name) => readFileSync(join(log, name), 'utf8').includes('outlet cannot be reached')),
    );
    expect(
      readdirSync(log)
        .map((name) => readFileSync(join(log, name), 'utf8'))
        .join(),
    ).not.toMatch(/ALDER|PA00042/);
  }, 60_000);
});

describe('outlet prepare and try', () => {
  let server: PostgresServer;
  beforeAll(async () => {
    server = await makePostgres();
  }, 60_000);
  afterAll(() => server.dispose());

  it('make the tables, reach the server, and never show the password', async () => {
    const { program } = setting(4, { ALDER_PASSWORD: 'gulls and gulls' });
    writeFileSync(join(program.data, 'config.toml'), 'site = "Port Alder"\n');
    const set = [
      '--set',
      'host=127.0.0.1',
      `port=${server.port}`,
      'database=postgres',
      'user=postgres',
      'tls=off',
      'password-env=ALDER_PASSWORD',
    ];
    expect(await program.run('outlet', 'add', 'head office', 'postgres', ...set)).toMatchObject({ code: 0 });
    expect(await program.run('outlet', 'try', 'head office')).toMatchObject({
      code: 2,
      stderr: expect.stringContaining('outlet prepare'),
    });
    expect(await program.run('outlet', 'prepare', 'head office', '--partitions', '2')).toMatchObject({ code: 0 });
    expect(await program.run('outlet', 'try', 'head office')).toMatchObject({ code: 0 });
    expect((await program.run('outlet', 'send')).stdout).toBe('head office: 4 sent\n');
    expect(await server.query('SELECT count(*)::int AS n FROM tallydock.reading_latest')).toEqual([{ n: 4 }]);
    expect(readFileSync(join(program.data, 'tallydock.db')).includes('gulls and gulls')).toBe(false);
    await server.kill();
    const sent = await program
      .run('outlet', 'replay', 'head office', '--all')
      .then(() => program.run('outlet', 'send'));
    expect(sent).toMatchObject({ code: 3 });
    expect(sent.stderr).not.toContain('gulls');
  }, 60_000);
});
