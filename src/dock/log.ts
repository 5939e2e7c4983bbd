/**
 * The daemon's log: JSON lines in files that roll. Whoever writes into it may hand over what he likes; only facts that
 * cannot name a person are let through: names of docks, ports, codes of faults, ids of downloads, counts. A sentence
 * is let through only if it is one of ours that never changes. Who needs more asks for the status.
 */
import { join } from 'node:path';
import { pino } from 'pino';
import { z } from 'zod';
import { FAULT_CODES } from '../core/fault.ts';
import { formatInstant, type Instant } from '../core/instant.ts';
import { openLogFile } from './log-file.ts';
import type { DaemonLog } from './start-daemon.ts';

/** Name of the log folder inside the data folder. */
const LOG_FOLDER = 'log';

const MAX_BYTES = 5_000_000;
/** About a month of quiet days, or 150 MB of busy ones. */
const KEEP = 30;

const count = z.int().nonnegative();
const word = z.string().regex(/^[a-z][a-z-]{0,30}$/);

/** The facts that are let through. Each is left out where it does not look like this. */
const FACTS = {
  /** As config.toml names it. */
  dock: z.string(),
  port: z.string(),
  /** As people call it. */
  outlet: z.string().max(60),
  phase: word,
  code: z.enum(FAULT_CODES),
  /** The system's or the runtime's own: ENOSPC, ERR_MODULE_NOT_FOUND. */
  system: z.string().regex(/^(E[A-Z0-9]{2,15}|(ERR|SQLITE)_[A-Z0-9_]{1,40})$/),
  download: z.string().regex(/^D\d+(\.\d+)?$/),
  new: count,
  known: count,
  refused: count,
  clockOffS: z.number(),
  clockSet: z.boolean(),
  docks: count,
  warnings: count,
  version: z.string().regex(/^\d+\.\d+\.\d+$/),
  pid: count,
  how: word,
  clean: z.boolean(),
  /** Lines of a stack: names of our own functions and files. */
  where: z.array(z.string().regex(/^\s+at /)),
} as const;
export type LogFacts = { readonly [name in keyof typeof FACTS]?: z.input<(typeof FACTS)[name]> };

/** The sentences that are let through; any other could hold what a meter said. */
const SENTENCES: ReadonlySet<string> = new Set([
  'started',
  'stopping',
  'stopped',
  'dock',
  'meter docked',
  'meter read',
  'meter read in part',
  'all is well again',
  'trouble',
  'something to look at',
  'backup made',
  'backup failed',
  'outlet cannot be reached',
  'outlet works again',
  'outlet refused readings',
  'desk opened',
  'desk cannot be opened',
  'desk failed',
  'failed',
  'crashed',
]);
/** What stands in the place of any other. */
const OTHER = 'see tallydock status';

export type LogLevel = 'debug' | 'info' | 'warn' | 'error';

/** A log that can be closed. */
export interface OpenLog extends DaemonLog {
  close(): void;
}

/** A line as it was let through, for whoever also wants to see it. */
export interface LogLine {
  readonly level: LogLevel;
  readonly facts: LogFacts;
  readonly message: string;
}

export interface LogOptions {
  readonly dataDir: string;
  /** The least important level that is written. */
  readonly level: LogLevel;
  readonly now: () => Instant;
  /** Told every line of level `info` and above, whatever the level of the file is. */
  readonly onLine?: (line: LogLine) => void;
}

/** Opens the log of a data folder. */
export function openLog({ dataDir, level, now, onLine }: LogOptions): OpenLog {
  const file = openLogFile({ folder: join(dataDir, LOG_FOLDER), now, maxBytes: MAX_BYTES, keep: KEEP });
  const logger = pino(
    {
      level,
      base: null,
      timestamp: () => `,"at":"${formatInstant(now())}"`,
      formatters: { level: (label) => ({ level: label }) },
    },
    file,
  );
  const write = (at: LogLevel) => (given: object, message: string) => {
    const facts = letThrough(given);
    const said = SENTENCES.has(message) ? message : facts.code ? 'trouble' : OTHER;
    logger[at](facts, said);
    if (at !== 'debug') onLine?.({ level: at, facts, message: said });
  };
  return {
    debug: write('debug'),
    info: write('info'),
    warn: write('warn'),
    error: write('error'),
    close: () => file.close(),
  };
}

/** The facts that may stand in the log. */
function letThrough(given: object): LogFacts {
  const kept = Object.entries(FACTS).flatMap(([name, schema]) => {
    const parsed = schema.safeParse(Reflect.get(given, name));
    return parsed.success ? [[name, parsed.data]] : [];
  });
  return Object.fromEntries(kept);
}
