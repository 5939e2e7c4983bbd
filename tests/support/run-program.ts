/** Runs the real built program as a child process, with a data folder of its own in a temporary place. */
import { spawn } from 'node:child_process';
import { existsSync, mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';

const PROGRAM = fileURLToPath(new URL('../../dist/cli/main.js', import.meta.url));

/** What a run printed and how it ended. */
export interface Ran {
  readonly code: number | null;
  readonly stdout: string;
  readonly stderr: string;
}

export interface Program {
  /** The data folder of this program. */
  readonly data: string;
  /** Runs a command to its end. `--data` is given by the environment. */
  run(...args: string[]): Promise<Ran>;
  /** Starts a command and gives the child process, for those that are stopped. */
  start(...args: string[]): ReturnType<typeof spawn>;
  /** The same, as the first of a process group of its own: `killGroup` ends it with all that it started. */
  startGroup(...args: string[]): ReturnType<typeof spawn>;
  /** Removes the data folder. */
  dispose(): void;
}

/** A program with an empty data folder. Throws where the program was not built: `npm run build`. */
export function makeProgram(env: Readonly<Record<string, string>> = {}): Program {
  if (!existsSync(PROGRAM)) throw new Error('The program is not built: run "npm run build" first, as npm test does.');
  const data = mkdtempSync(join(tmpdir(), 'tallydock-cli-'));
  const startAs =
    (detached: boolean) =>
    (...args: string[]) =>
      spawn(process.execPath, [PROGRAM, ...args], {
        cwd: data,
        detached,
        env: { ...process.env, TALLYDOCK_DATA: data, TZ: 'UTC', LC_ALL: 'C', ...env },
        stdio: ['ignore', 'pipe', 'pipe'],
      });
  const start = startAs(false);
  return {
    data,
    start,
    startGroup: startAs(process.platform !== 'win32'),
    run: (...args) =>
      new Promise((resolve, reject) => {
        const child = start(...args);
        const out: Buffer[] = [];
        const err: Buffer[] = [];
        child.stdout?.on('data', (chunk: Buffer) => out.push(chunk));
        child.stderr?.on('data', (chunk: Buffer) => err.push(chunk));
        child.once('error', reject);
        child.once('close', (code) =>
          resolve({ code, stdout: Buffer.concat(out).toString(), stderr: Buffer.concat(err).toString() }),
        );
      }),
    dispose: () => rmSync(data, { recursive: true, force: true }),
  };
}

/** Kills a process that `startGroup` started without warning, with all that it started. Windows knows no groups: there it alone. */
export function killGroup({ pid }: { readonly pid?: number | undefined }): void {
  if (pid === undefined) return;
  try {
    process.kill(process.platform === 'win32' ? pid : -pid, 'SIGKILL');
  } catch (thrown) {
    // ESRCH: it has ended by itself.
    if (!(thrown instanceof Error && 'code' in thrown && thrown.code === 'ESRCH')) throw thrown;
  }
}
