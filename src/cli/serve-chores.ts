/**
 * What the daemon does beside its docks: looks after the room on the disk, the clock of the PC and its own memory, and
 * makes the backups that config.toml asks for. What it finds stands in the status; reading stops while there is no room.
 */
import { existsSync, readdirSync } from 'node:fs';
import { asFault, Fault } from '../core/fault.ts';
import type { Instant } from '../core/instant.ts';
import type { Config } from '../dock/config.ts';
import { backUpApart } from '../dock/guards/backup-apart.ts';
import { isBackupDue } from '../dock/guards/backup-schedule.ts';
import {
  freeBytes,
  judgeSpace,
  mayRead,
  type SpaceLevel,
  spaceLimits,
  spaceWarning,
} from '../dock/guards/disk-space.ts';
import { giveBackMemory } from '../dock/guards/give-back.ts';
import { askTimeService, type PcClock } from '../dock/guards/time-service.ts';
import type { DaemonLog } from '../dock/start-daemon.ts';
import { newestBackup } from '../store/backup-names.ts';

/** What the chores work with. */
export interface ChoreTools {
  readonly folder: string;
  readonly config: Config;
  readonly now: () => Instant;
  readonly log: DaemonLog;
}

export interface Chores {
  /** Why no meter may be read now, if so. */
  guard(): Fault | undefined;
  /** Sentences that somebody should read. */
  warnings(): readonly string[];
  freeBytes(): number | undefined;
  /** Ends them; resolves when a backup that is being made is finished. */
  stop(): Promise<void>;
}

const SPACE_MS = 30_000;
const CLOCK_MS = 3_600_000;
const BACKUP_MS = 60_000;
const MEMORY_MS = 3_600_000;
/** By then the start is over, and with it the listings of ports that it takes. */
const FIRST_MEMORY_MS = 14_000;

/** Starts the chores; the room on the disk is known when this resolves. */
export async function startChores({ folder, config, now, log }: ChoreTools): Promise<Chores> {
  const limits = spaceLimits(config.store);
  let free: number | undefined;
  let level: SpaceLevel = 'plenty';
  let clock: PcClock | undefined;
  let backupFault: Fault | undefined;
  let failures = 0;
  let lastTryAt: Instant | undefined;

  const lookAtSpace = async (): Promise<void> => {
    free = await freeBytes(folder);
    const before = level;
    level = judgeSpace(level, free, limits);
    if (level !== before && (level === 'low' || level === 'out')) log.warn({}, 'something to look at');
  };
  const lookAtClock = async (): Promise<void> => {
    const before = clock?.kind;
    clock = await askTimeService(process.platform);
    if (clock.kind === 'not kept' && before !== 'not kept') log.warn({}, 'something to look at');
  };
  const backUp = async (): Promise<void> => {
    const { backup } = config;
    if (!backup) return;
    try {
      const newest = existsSync(backup.folder) ? newestBackup(readdirSync(backup.folder)) : undefined;
      const tried = { failures, ...(lastTryAt === undefined ? {} : { lastTryAt }) };
      if (!isBackupDue(backup.everyHours, { ...tried, ...(newest === undefined ? {} : { newest }) }, now())) return;
      lastTryAt = now();
      const program = [...process.execArgv, process.argv[1] ?? ''];
      await backUpApart({ ...backup, program, dataDir: folder });
      failures = 0;
      backupFault = undefined;
      log.info({}, 'backup made');
    } catch (thrown) {
      failures++;
      const fault = asFault(thrown);
      if (fault.code !== backupFault?.code) log.error({ code: fault.code }, 'backup failed');
      backupFault = fault;
    }
  };

  const chores = [
    every(SPACE_MS, lookAtSpace),
    every(CLOCK_MS, lookAtClock),
    every(BACKUP_MS, backUp),
    every(MEMORY_MS, giveBackMemory, FIRST_MEMORY_MS),
  ];
  await lookAtSpace();
  return {
    guard() {
      const said = spaceWarning(level, free, folder);
      return said && !mayRead(level) ? new Fault('STORE_FULL', said.message, said.hint) : undefined;
    },
    warnings() {
      const room = spaceWarning(level, free, folder);
      return [
        ...(room ? [`${room.message}. ${room.hint}`] : []),
        ...(clock?.kind === 'not kept'
          ? [
              `The clock of this PC is not kept right: ${clock.why}. Switch on "set time automatically" in the ` +
                'settings of this PC; the times of tests rest on it.',
            ]
          : []),
        ...(backupFault ? [`The last backup failed: ${backupFault.message}. ${backupFault.hint}`] : []),
      ];
    },
    freeBytes: () => free,
    async stop() {
      await Promise.all(chores.map((end) => end()));
    },
  };
}

/**
 * Does a piece of work again and again, never twice at once; now for the first time, or after `firstMs`. The returned
 * function ends it when it rests.
 */
function every(ms: number, work: () => Promise<void>, firstMs = 0): () => Promise<void> {
  let timer: NodeJS.Timeout | undefined;
  let isOver = false;
  let running: Promise<void> | undefined;
  const plan = (afterMs: number): void => {
    timer = setTimeout(run, afterMs).unref();
  };
  const run = (): void => {
    running = work().then(() => {
      if (!isOver) plan(ms);
    });
  };
  if (firstMs === 0) run();
  else plan(firstMs);
  return async () => {
    isOver = true;
    clearTimeout(timer);
    await running;
  };
}
