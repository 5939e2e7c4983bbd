/** Lives of the real daemon: short ones that end by a kill, and quiet ones that end when everything is read. */
import { once } from 'node:events';
import { controlClient } from '../../src/dock/control/client.ts';
import type { DockStatus } from '../../src/dock/daemon.ts';
import { runDaemon } from '../support/run-daemon.ts';
import { killGroup, type Program } from '../support/run-program.ts';
import { until } from '../support/until.ts';
import type { KillMoment } from './kill-moments.ts';

/** How one life went. */
export interface ShortLife {
  readonly pid: number;
  /** The signal or exit code that it ended with. */
  readonly end: number | string | null;
  /** How long it took to say that it runs, milliseconds; absent where it died before. */
  readonly startedMs?: number;
  readonly said: string;
}

/** Starts the daemon and lets it live until its moment has come; then its whole process group is killed. */
export async function shortLife(program: Program, until: (kill: () => void) => KillMoment): Promise<ShortLife> {
  const begun = performance.now();
  const child = program.startGroup('serve');
  const closed = once(child, 'close');
  const moment = until(() => killGroup(child));
  let said = '';
  let startedMs: number | undefined;
  child.stderr?.on('data', (data: Buffer) => {
    said += data.toString();
    if (startedMs !== undefined || !said.includes('started (')) return;
    startedMs = performance.now() - begun;
    moment.started();
  });
  const [code, signal] = await closed;
  moment.cancel();
  return { pid: child.pid ?? 0, end: code ?? signal, said, ...(startedMs === undefined ? {} : { startedMs }) };
}

/** Reading a dockful takes a second or two. */
const PATIENCE_MS = 60_000;

/**
 * Starts the daemon, lets it read until `isDone` with its docks, and stops it cleanly. Gives what went wrong in plain
 * words; nothing where all went well.
 */
export async function quietLife(
  program: Program,
  isDone: (docks: readonly DockStatus[]) => boolean,
): Promise<string[]> {
  const daemon = await runDaemon(program);
  const client = controlClient(program.data);
  const latest = performance.now() + PATIENCE_MS;
  let docks: readonly DockStatus[] = [];
  await until(async () => {
    docks = (await client.status()).docks;
    return isDone(docks) || performance.now() > latest;
  });
  const late = isDone(docks) ? [] : [`after a minute not everything was read: ${JSON.stringify(docks)}`];
  const end = await daemon.signal('SIGTERM');
  return end === 0 ? late : [...late, `the daemon ended with ${end} instead of stopping: ${daemon.said()}`];
}
