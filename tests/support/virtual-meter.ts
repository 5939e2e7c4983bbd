/** Runs the command `virtual-meter` as a program of its own, for tests that need a meter in another process. */
import { spawn } from 'node:child_process';
import { once } from 'node:events';
import { createInterface } from 'node:readline';

export interface RunningMeter {
  /** What it printed first: the name to give to the gateway. */
  readonly where: string;
  readonly pid: number;
  /** Ends it as Ctrl+C would; resolves with its exit code. */
  stop(signal?: NodeJS.Signals): Promise<number | null>;
  /** Resolves with its exit code when it ends by itself. */
  ended(): Promise<number | null>;
}

/** Starts a virtual meter and waits until it can be reached. Rejects with what it said on stderr where it cannot. */
export async function runVirtualMeter(...args: string[]): Promise<RunningMeter> {
  const program = ['--import', 'tsx', 'src/cli/main.ts', 'virtual-meter', ...args];
  const child = spawn(process.execPath, program, { stdio: ['ignore', 'pipe', 'pipe'] });
  let said = '';
  child.stderr.on('data', (data) => {
    said += data;
  });
  const exit = once(child, 'close').then(() => child.exitCode);
  const lines = createInterface(child.stdout);
  const where = await Promise.race([once(lines, 'line').then(([line]) => String(line)), exit.then(() => undefined)]);
  if (where === undefined) throw new Error(`exit ${child.exitCode}: ${said.trim()}`);
  return {
    where,
    pid: child.pid ?? 0,
    stop(signal = 'SIGINT') {
      child.kill(signal);
      return exit;
    },
    ended: () => exit,
  };
}
