/**
 * A pseudo-terminal whose far end is a program on this machine: the host opens `path` like any serial port. Made by
 * socat where it is installed, else by python3; Node alone cannot make one, and Windows has none.
 */
import { type ChildProcessByStdio, spawn } from 'node:child_process';
import { once } from 'node:events';
import { existsSync, mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import type { Readable, Writable } from 'node:stream';
import { setTimeout as sleep } from 'node:timers/promises';
import { Fault } from '../core/fault.ts';

/** One end of a pseudo-terminal. */
export interface Pty {
  /** What the host opens. */
  readonly path: string;
  /** Sends bytes to the host; `done` when they have been handed on. */
  write(data: Uint8Array, done?: () => void): void;
  /** Pulls the cable: the host sees its port vanish. Then plugs it in again at the same path. */
  replug(): Promise<void>;
  /** Removes it. Never rejects. */
  close(): Promise<void>;
}

/** Bridges a pseudo-terminal, linked at the path given, to standard input and output. The slave stays open so that hosts may come and go. */
const PYTHON = `
import os, pty, select, sys, tty
m, s = pty.openpty(); tty.setraw(s)
os.symlink(os.ttyname(s), sys.argv[1])
while True:
    r, _, _ = select.select([0, m], [], [])
    if 0 in r:
        d = os.read(0, 65536)
        if not d: break
        while d: d = d[os.write(m, d):]
    if m in r: os.write(1, os.read(m, 65536))
`;

type Bridge = ChildProcessByStdio<Writable, Readable, null>;

const WAYS: readonly (readonly [string, (path: string) => string[]])[] = [
  ['socat', (path) => ['-', `PTY,raw,echo=0,link=${path}`]],
  ['python3', (path) => ['-c', PYTHON, path]],
];

/** A new pseudo-terminal; `received` gets what the host sends. Throws PTY_UNAVAILABLE where none can be made. */
export async function openPty(received: (data: Uint8Array) => void): Promise<Pty> {
  const folder = mkdtempSync(join(tmpdir(), 'virtual-meter-'));
  const path = join(folder, 'port');
  let bridge = await startBridge(path).catch((fault: unknown) => {
    rmSync(folder, { recursive: true, force: true });
    throw fault;
  });
  bridge.stdout.on('data', received);
  const stop = async (): Promise<void> => {
    if (bridge.exitCode === null && bridge.signalCode === null) {
      const gone = once(bridge, 'exit');
      bridge.kill('SIGKILL'); // at once, so that the host sees a cable pulled; the link then stays behind
      await gone;
    }
    rmSync(path, { force: true });
  };
  return {
    path,
    write: (data, done) => void bridge.stdin.write(data, () => done?.()),
    async replug() {
      // What was written before the pull is let through first: the cable is pulled after these bytes, not before.
      await new Promise<void>((resolve) => void bridge.stdin.write(new Uint8Array(0), () => resolve()));
      await sleep(50);
      await stop();
      bridge = await startBridge(path);
      bridge.stdout.on('data', received);
    },
    async close() {
      await stop();
      rmSync(folder, { recursive: true, force: true });
    },
  };
}

async function startBridge(path: string): Promise<Bridge> {
  if (process.platform !== 'win32') {
    for (const [program, args] of WAYS) {
      const bridge = spawn(program, args(path), { stdio: ['pipe', 'pipe', 'ignore'] });
      bridge.stdin.on('error', () => {}); // EPIPE after the far end is gone says nothing new
      if (await appears(bridge, path)) return bridge;
    }
  }
  throw new Fault(
    'PTY_UNAVAILABLE',
    'No pseudo-terminal can be made on this machine',
    process.platform === 'win32'
      ? 'Windows has none: use --tcp PORT instead.'
      : 'Install socat (or python3), or use --tcp PORT instead.',
  );
}

/** True when the path is there; false where the program is missing, ends, or takes over 5 s. */
async function appears(bridge: Bridge, path: string): Promise<boolean> {
  let failed = false;
  bridge.on('error', () => {
    failed = true;
  });
  bridge.on('exit', () => {
    failed = true;
  });
  for (let tries = 0; tries < 1000 && !failed; tries++) {
    if (existsSync(path)) return true;
    await sleep(5);
  }
  bridge.kill('SIGKILL');
  return false;
}
