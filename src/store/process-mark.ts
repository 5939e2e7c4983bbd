/**
 * Which process owns an open capture, and whether it is still alive. A process number alone is not enough: it may
 * have been given to another program since. So the moment at which that process started is kept beside it, where the
 * platform tells.
 */

import { execFileSync } from 'node:child_process';
import { readFileSync } from 'node:fs';
import { systemCode } from '../core/system-code.ts';

/** A process: its number, and when it started in the platform's own words (absent where that cannot be told). */
export interface ProcessMark {
  readonly pid: number;
  readonly start?: string;
}

let own: ProcessMark | undefined;

/** The mark of this process. */
export function ownMark(): ProcessMark {
  own ??= markOf(process.pid);
  return own;
}

/** The mark of a running process. */
export function markOf(pid: number): ProcessMark {
  const start = startOf(pid);
  return start === undefined ? { pid } : { pid, start };
}

/** True while the marked process runs. Where its start cannot be told, a reused number counts as alive. */
export function isAlive(mark: ProcessMark): boolean {
  if (mark.pid <= 0) return false;
  try {
    process.kill(mark.pid, 0);
  } catch (thrown) {
    // EPERM: it is there and belongs to somebody else.
    if (systemCode(thrown) !== 'EPERM') return false;
  }
  const start = mark.pid === process.pid ? ownMark().start : startOf(mark.pid);
  return start === undefined || mark.start === undefined || start === mark.start;
}

/** Linux: boot id and start in ticks after boot (field 22 of /proc/PID/stat, proc(5)); macOS: `ps`; Windows: not told. */
function startOf(pid: number): string | undefined {
  try {
    if (process.platform === 'linux') {
      const stat = readFileSync(`/proc/${pid}/stat`, 'latin1');
      // The second field is the program's name in brackets and may hold anything: count from its end.
      const ticks = stat.slice(stat.lastIndexOf(')') + 2).split(' ')[19];
      return ticks && `${readFileSync('/proc/sys/kernel/random/boot_id', 'latin1').trim()} ${ticks}`;
    }
    if (process.platform === 'darwin')
      return execFileSync('ps', ['-o', 'lstart=', '-p', String(pid)], { encoding: 'utf8', timeout: 2000 }).trim();
  } catch {
    // Not told: the process number has to do.
  }
  return undefined;
}
