/**
 * A log file that rolls by day and by size, and keeps a bounded number of files. Every file is named for the day (UTC)
 * on which it was begun and its number in that day, and is never renamed: a reader that has it open loses nothing.
 * A disk that is full costs lines, which are counted, and never the daemon.
 */
import { closeSync, fstatSync, mkdirSync, openSync, readdirSync, rmSync, writeSync } from 'node:fs';
import { join } from 'node:path';
import { formatInstant, type Instant } from '../core/instant.ts';

export interface LogFileOptions {
  /** The folder of the logs; made for its owner only where it is not there. */
  readonly folder: string;
  readonly now: () => Instant;
  /** A file that has reached this size is not written any more. */
  readonly maxBytes: number;
  /** How many files stay. */
  readonly keep: number;
}

export interface LogFile {
  /** Writes one line with its end. Never throws: a line that cannot be written is counted, and said by the next that can. */
  write(line: string): void;
  close(): void;
}

const NAME = /^tallydock\.(\d{4}-\d{2}-\d{2})\.(\d{1,6})\.log$/;

/** What the name of a log file says. */
interface Named {
  readonly day: string;
  readonly number: number;
}

interface Opened extends Named {
  readonly fd: number;
  bytes: number;
}

/** Opens the log of a folder, going on in the newest file of today while it has room. */
export function openLogFile({ folder, now, maxBytes, keep }: LogFileOptions): LogFile {
  let open: Opened | undefined;
  let lost = 0;

  const close = (): void => {
    const closing = open;
    open = undefined;
    if (closing) closeSync(closing.fd);
  };
  const openNamed = (named: Named): Opened => {
    const fd = openSync(join(folder, nameOf(named)), 'a', 0o600);
    open = { ...named, fd, bytes: fstatSync(fd).size };
    return open;
  };
  /** The file to write into: of today, with room. Throws what the file system throws. */
  const ready = (): Opened => {
    const day = formatInstant(now()).slice(0, 10);
    if (open?.day === day && open.bytes < maxBytes) return open;
    close();
    mkdirSync(folder, { recursive: true, mode: 0o700 });
    const number = logFiles(folder).findLast((named) => named.day === day)?.number ?? 1;
    let opened = openNamed({ day, number });
    if (opened.bytes >= maxBytes) {
      close();
      opened = openNamed({ day, number: number + 1 });
    }
    for (const old of logFiles(folder).slice(0, -keep)) rmSync(join(folder, nameOf(old)), { force: true });
    return opened;
  };
  return {
    write(line) {
      try {
        const file = ready();
        const text =
          lost > 0 ? `${JSON.stringify({ level: 'warn', event: 'lines-lost', count: lost })}\n${line}` : line;
        const bytes = Buffer.from(text);
        file.bytes += writeSync(file.fd, bytes);
        lost = 0;
      } catch {
        lost++;
      }
    },
    close,
  };
}

const nameOf = ({ day, number }: Named): string => `tallydock.${day}.${number}.log`;

/** The log files of a folder, oldest first. Other files in it are left alone. */
function logFiles(folder: string): Named[] {
  const found = readdirSync(folder).flatMap((name): Named[] => {
    const [, day, number] = NAME.exec(name) ?? [];
    return day && number ? [{ day, number: Number(number) }] : [];
  });
  return found.sort((a, b) => (a.day === b.day ? a.number - b.number : a.day < b.day ? -1 : 1));
}
