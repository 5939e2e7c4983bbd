/**
 * The work of `tallydock serve`: one daemon on one store, from its lock to its end. Exit codes: 0 stopped when asked
 * to; 1 it could not start, broke, or was stopped at once; 2 the config or the call is wrong.
 */
import { join } from 'node:path';
import { setTimeout as sleep } from 'node:timers/promises';
import { asFault, Fault } from '../core/fault.ts';
import { type Instant, instant } from '../core/instant.ts';
import { stackPlaces } from '../core/stack-places.ts';
import { CONFIG_FILE, type Config, readConfig } from '../dock/config.ts';
import { controlAddress } from '../dock/control/address.ts';
import { controlClient } from '../dock/control/client.ts';
import { openControl } from '../dock/control/server.ts';
import type { Daemon } from '../dock/daemon.ts';
import { realHost } from '../dock/host.ts';
import { takeLock } from '../dock/lock.ts';
import { type OpenLog, openLog } from '../dock/log.ts';
import { reloadableDaemon } from '../dock/reloadable-daemon.ts';
import { startDaemon } from '../dock/start-daemon.ts';
import { LEAN_CACHE_KIB } from '../store/open-store.ts';
import { type CommonOptions, dataFolderOf } from './common-options.ts';
import { dockZone } from './config.ts';
import { logLineText } from './log-line-text.ts';
import { note } from './output.ts';
import { localSecond } from './plain-time.ts';
import { startChores } from './serve-chores.ts';
import { type ServedDesk, serveDesk } from './serve-desk.ts';
import { startForwarding } from './serve-forwarding.ts';
import { type StopRequests, stopRequests } from './stop-requests.ts';
import { programVersion } from './version.ts';
import { type Intake, withIntake } from './with-intake.ts';

/** The options of one call. */
export interface ServeCall extends CommonOptions {
  readonly stop?: boolean;
  readonly now?: boolean;
}

/** How long a daemon that is ordered to stop at once may take. */
const FORCED_MS = 2000;

/** Runs the daemon until it is stopped, or stops the one that runs. */
export async function serve(options: ServeCall): Promise<void> {
  const folder = dataFolderOf(options);
  if (options.stop) {
    await controlClient(folder).stop(options.now ? 'now' : 'clean');
    if (!options.quiet) note('The daemon has stopped.');
    return;
  }
  const config = readConfig(folder);
  if (config.docks.length === 0 && !config.desk.enabled) throw noDocks(folder);
  const requests = stopRequests();
  const address = controlAddress(folder);
  const lock = takeLock(folder, { pid: process.pid, since: now(), control: address });
  const say = sayer(options, config);
  const log = openLog({ dataDir: folder, level: config.log.level, now, onLine: (line) => say(logLineText(line)) });
  const onCrash = (error: Error): void => crash(error, log);
  process.on('uncaughtException', onCrash);
  let isClean = true;
  try {
    await withIntake(options, 'serve', { mustExist: false, cacheKib: LEAN_CACHE_KIB }, async (intake) => {
      isClean = await run({ folder, config, address, requests, log, say }, intake);
    });
  } catch (thrown) {
    log.error({ code: asFault(thrown).code }, 'failed');
    throw thrown;
  } finally {
    process.off('uncaughtException', onCrash);
    log.close();
    lock.release();
    requests.dispose();
  }
  // A daemon that did not end in time still holds ports, and would hold the process.
  if (!isClean) process.exit(1);
}

const now = (): Instant => instant(Date.now());

/** Says things with their local time on stderr, unless the person wants quiet. */
function sayer(options: ServeCall, config: Config): (text: string) => void {
  const zone = dockZone(undefined, config);
  return (text) => {
    if (!options.quiet) note(`${localSecond(now(), zone)} (${zone})  ${text}`);
  };
}

/** What one run works with. */
interface Run {
  readonly folder: string;
  readonly config: Config;
  readonly address: string;
  readonly requests: StopRequests;
  readonly log: OpenLog;
  readonly say: (text: string) => void;
}

/** Runs the daemon on the open store until somebody wants it to stop. True if it stopped cleanly. */
async function run(tools: Run, { store, profiles, context }: Intake): Promise<boolean> {
  const { folder, config, address, requests, log, say } = tools;
  const { actor } = context;
  const chores = await startChores({ folder, config, now, log });
  const forwarding = startForwarding({ folder, config, store, now, log });
  let desk: ServedDesk | undefined;
  const daemon = reloadableDaemon(
    (current) =>
      startDaemon({
        version: programVersion(),
        pid: process.pid,
        dataDir: folder,
        config: current,
        store,
        profiles,
        actor,
        host: realHost,
        log,
        guard: chores.guard,
        warnings: () => [...chores.warnings(), ...(desk?.warning === undefined ? [] : [desk.warning])],
        freeBytes: chores.freeBytes,
        desk: () => desk?.url,
        outlets: forwarding.status,
      }),
    config,
  );
  try {
    const control = await openControl({ address, daemon, onStop: requests.ask });
    desk = await serveDesk({ folder, config, store, profiles, daemon, now, log });
    if (desk.url !== undefined) say(`The desk is open at ${desk.url}`);
    if (desk.warning !== undefined) say(desk.warning);
    say('Ctrl+C stops it; "tallydock status" in another window shows what it does');
    const how = await requests.first;
    log.info({ how }, 'stopping');
    if (how === 'clean') say('a download in progress is kept; stop once more to stop at once');
    const isClean = await stopDaemon(daemon, how, requests, log);
    if (!isClean) say('stopped at once: what was read is in the store, and is taken in at the next start');
    await control.close();
    return isClean;
  } catch (thrown) {
    // Without its channel it must not go on.
    await stopDaemon(daemon, 'clean', requests, log);
    throw thrown;
  } finally {
    await Promise.race([Promise.all([desk?.close(), chores.stop(), forwarding.stop()]), requests.order]);
  }
}

/** Stops cleanly, or at once as soon as that is ordered. True if nobody ordered it and nothing failed. */
async function stopDaemon(
  daemon: Daemon,
  how: 'clean' | 'now',
  { order }: StopRequests,
  log: OpenLog,
): Promise<boolean> {
  let isClean = how === 'clean';
  const atOnce = (): Promise<unknown> => {
    isClean = false;
    return Promise.race([daemon.stop('now'), sleep(FORCED_MS)]);
  };
  const cleanly = (): Promise<unknown> =>
    daemon.stop('clean').catch((thrown: unknown) => {
      log.error({ code: asFault(thrown).code }, 'failed');
      return atOnce();
    });
  await (isClean ? Promise.race([cleanly(), order.then(atOnce)]) : atOnce());
  return isClean;
}

/**
 * A bug of ours ends the daemon, so that the service manager starts a fresh one. The error's message may hold anything:
 * only where it happened is kept.
 */
function crash(error: Error, log: OpenLog): void {
  log.error({ where: stackPlaces(error), code: 'INTERNAL' }, 'crashed');
  log.close();
  note(`tallydock: The daemon broke (${error.name}). Its log says where; what was stored is safe. [INTERNAL]`);
  process.exit(1);
}

const noDocks = (folder: string): Fault =>
  new Fault(
    'CONFIG_INVALID',
    `${join(folder, CONFIG_FILE)} names no dock to watch`,
    'Write one into it, for instance dock = [{ name = "front desk", port = "/dev/ttyUSB0" }]; ' +
      '"tallydock ports" lists the ports, "tallydock serve --help" shows more.',
  );
