/** The work of `tallydock status`: asks the running daemon over its control channel. Opens no store and no port. */
import { asFault } from '../core/fault.ts';
import { type Instant, instant } from '../core/instant.ts';
import { controlClient } from '../dock/control/client.ts';
import { openMetrics } from '../dock/control/open-metrics.ts';
import { isToLookAt } from '../dock/control/to-look-at.ts';
import type { DaemonStatus, DockStatus } from '../dock/daemon.ts';
import { type CommonOptions, dataFolderOf } from './common-options.ts';
import { dockZone, readConfig } from './config.ts';
import { faultLine, isReaderGone, note, print, printJson } from './output.ts';
import { localSecond } from './plain-time.ts';
import { doing, lookLines, statusJson, statusText } from './status-text.ts';
import { printable } from './table.ts';

/** The options of one call. */
export interface StatusCall extends CommonOptions {
  readonly watch?: boolean;
  readonly health?: boolean;
  readonly metrics?: boolean;
}

/** Shows the status in the way asked for. Rejects with DAEMON_MISSING or DAEMON_FAILED. */
export async function showStatus(options: StatusCall): Promise<void> {
  const folder = dataFolderOf(options);
  const client = controlClient(folder);
  if (options.metrics) {
    const { status, figures } = await client.figures();
    await print(openMetrics(status, figures, instant(Date.now())));
  } else if (options.health) await showHealth(await client.status(), options);
  else if (options.watch) await watch(folder, options);
  else {
    const status = await client.status();
    if (options.json) await printJson(statusJson(status));
    else await print(statusText(status, zoneOf(folder)));
  }
}

/** The zone of the config. A file that has become wrong since the daemon started must not hide what the daemon does. */
function zoneOf(folder: string): string {
  try {
    return dockZone(undefined, readConfig(folder));
  } catch (thrown) {
    note(faultLine(asFault(thrown)));
    return dockZone(undefined, {});
  }
}

/** Exit code 0 where all is well, 3 where the daemon works but somebody should look; 1 (by the fault) where none answers. */
async function showHealth(status: DaemonStatus, options: StatusCall): Promise<void> {
  const troubles =
    status.docks.filter(isToLookAt).length + status.outlets.filter((o) => o.trouble || o.setAside > 0).length;
  const toLookAt = troubles + status.warnings.length;
  if (options.json) await printJson({ well: toLookAt === 0, troubles, warnings: status.warnings.length });
  else if (toLookAt === 0)
    await print(`Well: ${status.docks.length} dock${status.docks.length === 1 ? '' : 's'}, no trouble.\n`);
  else await print(`Works, but ${toLookAt} to look at: run tallydock status.\n`);
  if (toLookAt > 0) process.exitCode = 3;
}

/** One line for every change, or one JSON document a line, until the daemon ends, the reader is gone, or Ctrl+C. */
async function watch(folder: string, options: StatusCall): Promise<void> {
  const stop = new AbortController();
  const onSignal = (): void => stop.abort();
  process.once('SIGINT', onSignal).once('SIGTERM', onSignal);
  const zone = zoneOf(folder);
  let before: DaemonStatus | undefined;
  const tell = (status: DaemonStatus): void => {
    if (isReaderGone()) stop.abort();
    else if (options.json) void printJson(statusJson(status));
    else void print(changesText(before, status, instant(Date.now()), zone));
    before = status;
  };
  try {
    await controlClient(folder).watch(tell, stop.signal);
    if (!stop.signal.aborted) note('The daemon has stopped.');
  } finally {
    process.off('SIGINT', onSignal).off('SIGTERM', onSignal);
  }
}

/** A line for each dock that does something else than before, and for each new trouble or warning. */
function changesText(before: DaemonStatus | undefined, after: DaemonStatus, now: Instant, zone: string): string {
  const was = new Map(before?.docks.map((dock) => [dock.name, doing(dock, zone)]));
  const changed = after.docks.filter((dock: DockStatus) => was.get(dock.name) !== doing(dock, zone));
  const known = new Set(before ? lookLines(before, zone) : []);
  const lines = [
    ...changed.map((dock) => printable(`${dock.name}: ${doing(dock, zone)}`)),
    ...lookLines(after, zone).filter((line) => !known.has(line)),
  ];
  return lines.map((line) => `${localSecond(now, zone)} (${zone})  ${line}\n`).join('');
}
