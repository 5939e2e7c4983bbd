/**
 * A real PostgreSQL server of its own for tests: on a free port of this PC, in a folder of its own, killed and started
 * again at will. As root it runs as another account, since it refuses to run as root.
 */
import { type ChildProcess, execFileSync, spawn, spawnSync } from 'node:child_process';
import { once } from 'node:events';
import { chownSync, existsSync, mkdtempSync, readdirSync, rmSync } from 'node:fs';
import { createServer } from 'node:net';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import pg from 'pg';
import { until } from './until.ts';

export interface PostgresServer {
  readonly port: number;
  /** Runs a query as its owner. */
  query(sql: string): Promise<Record<string, unknown>[]>;
  /** Ends it and everything that it has begun, without warning. */
  kill(): Promise<void>;
  /** Lets it stand still, or go on. */
  freeze(isFrozen: boolean): void;
  /** Starts it again after a kill. */
  start(): Promise<void>;
  /** Ends it and removes its folder. */
  dispose(): Promise<void>;
}

/** Where the server's own programs are: Debian keeps them out of the path. */
function programs(): string {
  const found = spawnSync('sh', ['-c', 'command -v initdb'], { encoding: 'utf8' }).stdout.trim();
  if (found && existsSync(found))
    return execFileSync('sh', ['-c', `dirname "$(readlink -f "${found}")"`], { encoding: 'utf8' }).trim();
  const debian = '/usr/lib/postgresql';
  const versions = existsSync(debian) ? readdirSync(debian).sort((a, b) => Number(a) - Number(b)) : [];
  const newest = versions.at(-1);
  if (newest === undefined)
    throw new Error('PostgreSQL is not installed: npm test installs it on a Debian machine as root');
  return join(debian, newest, 'bin');
}

const isRoot = process.getuid?.() === 0;

/** As whom the server runs. */
function account(): { readonly uid: number; readonly gid: number } | undefined {
  if (!isRoot) return undefined;
  const id = (what: string): number => Number(execFileSync('id', [what, 'postgres'], { encoding: 'utf8' }));
  return { uid: id('-u'), gid: id('-g') };
}

async function freePort(): Promise<number> {
  const probe = createServer().listen(0, '127.0.0.1');
  await once(probe, 'listening');
  const address = probe.address();
  probe.close();
  await once(probe, 'close');
  if (address === null || typeof address === 'string') throw new Error('no port was given');
  return address.port;
}

/** Makes a server with these settings and starts it; `files` are given to its account. Whoever makes it disposes of it. */
export async function makePostgres(
  extra: readonly string[] = [],
  files: readonly string[] = [],
): Promise<PostgresServer> {
  const bin = programs();
  const as = account();
  const dir = mkdtempSync(join(tmpdir(), 'tallydock-pg-'));
  for (const path of as ? [dir, ...files] : []) chownSync(path, as?.uid ?? 0, as?.gid ?? 0);
  const data = join(dir, 'data');
  execFileSync(
    join(bin, 'initdb'),
    ['-D', data, '-U', 'postgres', '-A', 'trust', '-E', 'UTF8', '--locale=C', '--no-sync'],
    { cwd: dir, stdio: ['ignore', 'ignore', 'inherit'], ...as },
  );
  const port = await freePort();
  let server: ChildProcess | undefined;
  let ended: Promise<unknown> = Promise.resolve();

  const query: PostgresServer['query'] = async (sql) => {
    const client = new pg.Client({ host: '127.0.0.1', port, user: 'postgres', database: 'postgres' });
    client.on('error', () => {}); // the server may be killed meanwhile: the query rejects then
    await client.connect();
    try {
      return (await client.query<Record<string, unknown>>(sql)).rows;
    } finally {
      await client.end();
    }
  };
  const start = async (): Promise<void> => {
    // What a killed postmaster leaves must not keep the next one from starting.
    rmSync(join(data, 'postmaster.pid'), { force: true });
    const settings = ['listen_addresses=127.0.0.1', 'unix_socket_directories=', 'fsync=off', ...extra];
    server = spawn(join(bin, 'postgres'), ['-D', data, '-p', String(port), ...settings.flatMap((s) => ['-c', s])], {
      cwd: dir,
      stdio: 'ignore',
      detached: true, // a group of its own, so that all of it can be ended at once
      ...as,
    });
    ended = once(server, 'exit');
    await until(async () => (await query('SELECT 1').catch(() => [])).length === 1);
  };
  /** Every process of the server: its children leave its group. */
  const everyProcess = (): number[] =>
    spawnSync('ps', ['-o', 'pid=', '--ppid', String(server?.pid ?? 0)], { encoding: 'utf8' })
      .stdout.split('\n')
      .map(Number)
      .filter((pid) => pid > 0);
  const signalAll = (signal: NodeJS.Signals): void => {
    const children = everyProcess();
    for (const pid of [...(server?.pid === undefined ? [] : [server.pid]), ...children]) {
      try {
        process.kill(pid, signal);
      } catch {
        // It had ended already.
      }
    }
  };
  const kill = async (): Promise<void> => {
    if (!server) return;
    const children = everyProcess();
    signalAll('SIGKILL');
    await ended;
    await until(async () => children.every((pid) => !isAlive(pid)));
    server = undefined;
  };
  await start();
  return {
    port,
    query,
    kill,
    freeze: (isFrozen) => signalAll(isFrozen ? 'SIGSTOP' : 'SIGCONT'),
    start,
    async dispose() {
      await kill();
      rmSync(dir, { recursive: true, force: true });
    },
  };
}

function isAlive(pid: number): boolean {
  try {
    process.kill(pid, 0);
    return true;
  } catch {
    return false;
  }
}
