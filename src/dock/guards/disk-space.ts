/**
 * Guards the room on the disk: says early when it gets low, stops the reading of meters before the store could fail,
 * and lets it go on by itself when there is room again. Deletes nothing, ever: what is not read stays in the meter.
 */
import { statfs } from 'node:fs/promises';

/**
 * plenty; low: somebody should make room; out: no meter is read any more; not known: the system does not tell, and the
 * store itself has to say when it is full.
 */
export type SpaceLevel = 'plenty' | 'low' | 'out' | 'not known';

/** Free bytes under which somebody is told, and under which reading stops. */
export interface SpaceLimits {
  readonly warnBytes: number;
  readonly stopBytes: number;
}

const MB = 1_000_000;

/** The limits of the config's megabytes. */
export const spaceLimits = (store: { readonly warnFreeMb: number; readonly stopFreeMb: number }): SpaceLimits => ({
  warnBytes: store.warnFreeMb * MB,
  stopBytes: store.stopFreeMb * MB,
});

/** Going back to a better level takes this much more room, so that a disk at the edge does not change its mind all day. */
const BACK = 1.25;

/** The level now, `before` being the one so far. `free` is absent where it could not be learned. Pure. */
export function judgeSpace(before: SpaceLevel, free: number | undefined, limits: SpaceLimits): SpaceLevel {
  // A disk that was full and cannot be asked any more is no better for that.
  if (free === undefined) return before === 'out' ? 'out' : 'not known';
  if (free < limits.stopBytes * (before === 'out' ? BACK : 1)) return 'out';
  const wasLow = before === 'low' || before === 'out';
  return free < limits.warnBytes * (wasLow ? BACK : 1) ? 'low' : 'plenty';
}

/** True where meters may be read. */
export const mayRead = (level: SpaceLevel): boolean => level !== 'out';

/** What to say about a level, and what to do; nothing where there is nothing to do. */
export function spaceWarning(
  level: SpaceLevel,
  free: number | undefined,
  folder: string,
): { readonly message: string; readonly hint: string } | undefined {
  if (level !== 'low' && level !== 'out') return undefined;
  const room = free === undefined ? 'Hardly any room' : `Only ${Math.floor(free / MB)} MB`;
  const hint = 'Make room on this disk; nothing that was stored is lost, and what is not read stays in the meters.';
  return level === 'low'
    ? { message: `${room} left on the disk of ${folder}`, hint }
    : { message: `${room} left on the disk of ${folder}: no meter is read until there is more`, hint };
}

/** Free bytes on the disk of a folder, for this account; undefined where the system does not tell. */
export async function freeBytes(folder: string): Promise<number | undefined> {
  try {
    const { bavail, bsize } = await statfs(folder);
    return bavail * bsize;
  } catch {
    return undefined; // a folder that is not there, or a file system that does not say
  }
}
