/** A small real disk in memory for tests that fill it or make it read-only; only where this account may mount one. */
import { spawnSync } from 'node:child_process';
import { closeSync, fsyncSync, mkdtempSync, openSync, rmSync, writeSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { onTestFinished } from 'vitest';

const run = (...args: string[]): boolean => spawnSync(args[0] ?? '', args.slice(1), { stdio: 'ignore' }).status === 0;

/** True where a small disk can be mounted: on Linux, as root, outside most containers. */
export const canMount: boolean = (() => {
  if (process.platform !== 'linux' || process.getuid?.() !== 0) return false;
  const dir = mkdtempSync(join(tmpdir(), 'tallydock-mount-'));
  const isMounted = run('mount', '-t', 'tmpfs', '-o', 'size=1m', 'tmpfs', dir);
  if (isMounted) run('umount', dir);
  rmSync(dir, { recursive: true, force: true });
  return isMounted;
})();

export interface SmallDisk {
  readonly dir: string;
  /** Fills it to the last byte with a file of nobody's. */
  fill(): void;
  /** Takes that file away again. */
  clear(): void;
  /** Makes it read-only, or writable again; nothing on it may be open for writing. */
  setWritable(isWritable: boolean): void;
}

/** Mounts a disk of so many kilobytes; it is gone when the running test ends. */
export function smallDisk(kilobytes: number): SmallDisk {
  const dir = mkdtempSync(join(tmpdir(), 'tallydock-disk-'));
  if (!run('mount', '-t', 'tmpfs', '-o', `size=${kilobytes}k`, 'tmpfs', dir)) throw new Error('no disk was mounted');
  onTestFinished(() => {
    if (!run('umount', dir)) run('umount', '-l', dir);
    rmSync(dir, { recursive: true, force: true });
  });
  const filler = join(dir, 'filler');
  return {
    dir,
    fill() {
      const file = openSync(filler, 'a');
      for (const size of [65_536, 4096, 1]) {
        try {
          for (;;) writeSync(file, Buffer.alloc(size));
        } catch (thrown) {
          if (!(thrown instanceof Error && 'code' in thrown && thrown.code === 'ENOSPC')) throw thrown;
        }
      }
      fsyncSync(file);
      closeSync(file);
    },
    clear: () => rmSync(filler, { force: true }),
    setWritable(isWritable) {
      if (!run('mount', '-o', `remount,${isWritable ? 'rw' : 'ro'}`, dir)) throw new Error('it could not be remounted');
    },
  };
}
