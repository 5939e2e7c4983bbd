/**
 * Two pseudo-terminals joined back to back, for tests in which both ends are opened by path: by socat where it is
 * installed, else by python3.
 */
import { spawn } from 'node:child_process';
import { once } from 'node:events';
import { existsSync, mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { setTimeout as sleep } from 'node:timers/promises';

export interface PtyPair {
  readonly host: string;
  readonly meter: string;
  /** Both ends vanish, as when a cable is pulled. Resolves when they are gone. */
  remove(): Promise<void>;
}

const PYTHON = `
import os, pty, select, sys, tty
ends = []
for path in sys.argv[1:3]:
    m, s = pty.openpty(); tty.setraw(s); os.symlink(os.ttyname(s), path); ends.append((m, s))
a, b = ends[0][0], ends[1][0]
while True:
    for m in select.select([a, b], [], [])[0]:
        d = os.read(m, 65536)
        while d: d = d[os.write(b if m == a else a, d):]
`;

/** A new pair. Throws where neither socat nor python3 can make one. */
export async function ptyPair(): Promise<PtyPair> {
  const folder = mkdtempSync(join(tmpdir(), 'pty-pair-'));
  const [host, meter] = [join(folder, 'host'), join(folder, 'meter')];
  const ways: [string, string[]][] = [
    ['socat', [`pty,raw,echo=0,link=${host}`, `pty,raw,echo=0,link=${meter}`]],
    ['python3', ['-c', PYTHON, host, meter]],
  ];
  for (const [program, args] of ways) {
    const bridge = spawn(program, args, { stdio: 'ignore' });
    let failed = false;
    bridge.on('error', () => {
      failed = true;
    });
    for (let tries = 0; tries < 1000 && !failed && bridge.exitCode === null; tries++) {
      if (existsSync(host) && existsSync(meter)) {
        return {
          host,
          meter,
          async remove() {
            const gone = once(bridge, 'exit');
            if (bridge.kill('SIGKILL')) await gone;
            rmSync(folder, { recursive: true, force: true });
          },
        };
      }
      await sleep(5);
    }
    bridge.kill('SIGKILL');
  }
  rmSync(folder, { recursive: true, force: true });
  throw new Error('neither socat nor python3 can make pseudo-terminals here');
}
