/** The lock: one daemon a store, named to everybody, and gone with its process however that ends. */
import { type ChildProcess, spawn } from 'node:child_process';
import { once } from 'node:events';
import { chmodSync, mkdtempSync, rmSync, statSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { createInterface } from 'node:readline';
import { fileURLToPath } from 'node:url';
import { afterEach, beforeEach, describe, expect, it } from 'vitest';
import { instant } from '../../src/core/instant.ts';
import { LOCK_FILE, lockHolder, namedDaemon, takeLock } from '../../src/dock/lock.ts';

const CHILD = fileURLToPath(new URL('lock-child.ts', import.meta.url));
const me = { pid: process.pid, since: instant(Date.UTC(2026, 2, 2, 10, 15)), control: 'here' };

describe('the lock of a store', () => {
  let dir: string;
  const children: ChildProcess[] = [];
  beforeEach(() => {
    dir = mkdtempSync(join(tmpdir(), 'tallydock-lock-'));
  });
  afterEach(async () => {
    for (const child of children.splice(0)) await end(child);
    rmSync(dir, { recursive: true, force: true });
  });
  const end = async (child: ChildProcess): Promise<void> => {
    if (child.exitCode !== null || child.signalCode !== null) return;
    const gone = once(child, 'exit');
    child.kill('SIGKILL');
    await gone;
  };
  /** Starts a process that takes the lock; gives what it said. */
  const other = async (): Promise<{ child: ChildProcess; said: string }> => {
    const child = spawn(process.execPath, ['--import', 'tsx', CHILD, dir], { stdio: ['ignore', 'pipe', 'inherit'] });
    children.push(child);
    const [said] = await once(createInterface(child.stdout), 'line');
    return { child, said: String(said) };
  };

  it('is held by one at a time, who is named with process and time', () => {
    const lock = takeLock(dir, me);
    expect(lockHolder(dir)).toEqual(me);
    expect(() => takeLock(dir, { ...me, since: instant(me.since + 1) })).toThrow(
      expect.objectContaining({
        code: 'DAEMON_RUNNING',
        message: `The store in ${dir} is looked after by ${namedDaemon(me)} already`,
      }),
    );
    expect(lockHolder(dir)).toEqual(me);
    lock.release();
    expect(lockHolder(dir)).toBeUndefined();
  });

  it('names its holder in local time with the zone', () => {
    expect(namedDaemon({ ...me, pid: 4711 }, 'Europe/Berlin')).toBe(
      'a daemon (process 4711, since 2026-03-02 11:15 Europe/Berlin)',
    );
    expect(namedDaemon(undefined)).toBe('a daemon');
  });

  it('is free again once it is released, and then carries the name of the next holder', () => {
    takeLock(dir, me).release();
    const next = { ...me, since: instant(me.since + 1), control: 'there' };
    const lock = takeLock(dir, next);
    expect(lockHolder(dir)).toEqual(next);
    lock.release();
  });

  it('is refused to a second process, which is told who holds it', async () => {
    const lock = takeLock(dir, me);
    // A look from inside opens and closes the file once more, which must not drop the lock with it.
    expect(lockHolder(dir)).toEqual(me);
    expect((await other()).said).toContain(namedDaemon(me));
    lock.release();
  });

  it('is released by kill -9', async () => {
    const { child, said } = await other();
    expect(said).toBe('held');
    expect(lockHolder(dir)?.pid).toBe(child.pid);
    expect(() => takeLock(dir, me)).toThrow(expect.objectContaining({ code: 'DAEMON_RUNNING' }));
    await end(child);
    expect(lockHolder(dir)).toBeUndefined();
    const lock = takeLock(dir, me);
    expect(lockHolder(dir)).toEqual(me);
    lock.release();
  });

  it('goes to exactly one of several that start at the same moment, and bears its name', async () => {
    const started = await Promise.all([other(), other(), other(), other()]);
    const winners = started.filter(({ said }) => said === 'held');
    expect(winners).toHaveLength(1);
    expect(lockHolder(dir)?.pid).toBe(winners[0]?.child.pid);
    for (const { said } of started.filter((one) => !winners.includes(one)))
      expect(said).toContain('is looked after by');
  });

  it('is not held by a client that looks, nor by a folder that is not there', () => {
    expect(lockHolder(join(dir, 'nowhere'))).toBeUndefined();
    takeLock(dir, me).release();
    for (let i = 0; i < 100; i++) expect(lockHolder(dir)).toBeUndefined();
    takeLock(dir, me).release();
  });

  it('makes a folder and a file for its owner only', () => {
    const made = join(dir, 'new');
    const lock = takeLock(made, me);
    expect(statSync(made).mode & 0o077).toBe(0);
    expect(statSync(join(made, LOCK_FILE)).mode & 0o077).toBe(0);
    lock.release();
  });

  it('says so where the file is something else or cannot be used', () => {
    writeFileSync(join(dir, LOCK_FILE), 'this is no database, but long enough to be looked at'.repeat(20));
    expect(() => takeLock(dir, me)).toThrow(expect.objectContaining({ code: 'STORE_DAMAGED' }));
    rmSync(join(dir, LOCK_FILE));
    writeFileSync(join(dir, 'file'), '');
    expect(() => takeLock(join(dir, 'file'), me)).toThrow(expect.objectContaining({ code: 'STORE_DENIED' }));
    chmodSync(dir, 0o700);
  });
});
