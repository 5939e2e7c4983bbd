/** Runs `tallydock serve` as a program of its own, for tests that need a daemon in another process. */
import { once } from 'node:events';
import { writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { controlClient } from '../../src/dock/control/client.ts';
import type { DockStatus } from '../../src/dock/daemon.ts';
import type { Program } from './run-program.ts';
import { until } from './until.ts';

export interface RunningDaemon {
  readonly pid: number;
  /** What it has said on stderr so far. */
  said(): string;
  /** Sends signals one behind the other; resolves with its exit code, or the signal that killed it. */
  signal(...signals: NodeJS.Signals[]): Promise<number | string | null>;
  /** Resolves with how it ended. */
  readonly ended: Promise<number | string | null>;
}

/** Docks at these ports, written into config.toml; the desk takes any free port. */
export function writeDocks(program: Program, ports: readonly string[], more = ''): void {
  const docks = ports.map((port, i) => `[[dock]]\nname = "dock ${i + 1}"\nport = "${port}"\n`);
  writeFileSync(join(program.data, 'config.toml'), `zone = "Europe/Lisbon"\ndesk.port = 0\n${docks.join('')}${more}`);
}

/** Starts the daemon and waits until it answers. Throws what it said where it ends before. */
export async function runDaemon(program: Program, ...args: string[]): Promise<RunningDaemon> {
  const child = program.start('serve', ...args);
  let said = '';
  child.stderr?.on('data', (chunk: Buffer) => {
    said += chunk.toString();
  });
  let isOver = false;
  const ended = once(child, 'close').then(([code, signal]) => {
    isOver = true;
    return (code ?? signal) as number | string | null;
  });
  const client = controlClient(program.data);
  const answers = async (): Promise<boolean> => (await client.status().catch(() => undefined)) !== undefined;
  await until(async () => isOver || (await answers()));
  if (isOver) throw new Error(`the daemon ended with ${await ended}: ${said}`);
  return {
    pid: child.pid ?? 0,
    said: () => said,
    signal(...signals) {
      for (const signal of signals) child.kill(signal);
      return ended;
    },
    ended,
  };
}

/** Waits until the status of the running daemon warns of something. */
export async function untilWarned(program: Program, of: string): Promise<void> {
  await until(async () => (await controlClient(program.data).status()).warnings.some((said) => said.includes(of)));
}

/** Waits until the first dock of the running daemon is as wanted. */
export async function untilDock(program: Program, isWanted: (dock: DockStatus) => boolean): Promise<void> {
  await until(async () => {
    const [dock] = (await controlClient(program.data).status()).docks;
    return dock !== undefined && isWanted(dock);
  });
}
