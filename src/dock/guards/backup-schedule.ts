/** When the next automatic backup is to be tried. Pure; it knows what lies in the folder, so it survives a restart. */
import type { Instant } from '../../core/instant.ts';

export interface BackupRecord {
  /** When the newest backup in the folder was made; absent where there is none. */
  readonly newest?: Instant;
  /** Tries that failed since the last one that did not, and when the last of them began. */
  readonly failures: number;
  readonly lastTryAt?: Instant;
}

const MINUTE = 60_000;
const HOUR = 60 * MINUTE;

/** After a failure it is tried again after 5 minutes, then 10, 20, 40, then every hour: a stick may be plugged in. */
const restAfter = (failures: number): number => Math.min(HOUR, 5 * MINUTE * 2 ** Math.min(10, failures - 1));

/** True where a backup is to be made now. */
export function isBackupDue(everyHours: number, { newest, failures, lastTryAt }: BackupRecord, now: Instant): boolean {
  // What lies in the future is from before the PC's clock was put back, and tells nothing.
  if (failures > 0 && lastTryAt !== undefined && lastTryAt <= now && now - lastTryAt < restAfter(failures))
    return false;
  return newest === undefined || newest > now || now - newest >= everyHours * HOUR;
}
