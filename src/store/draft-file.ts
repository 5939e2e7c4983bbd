/**
 * Files that are made whole before they get their name: a draft beside the target, readable by its owner only, that is
 * swept away where its program was killed.
 */
import {
  closeSync,
  copyFileSync,
  existsSync,
  fsyncSync,
  linkSync,
  openSync,
  readdirSync,
  renameSync,
  rmSync,
  statSync,
} from 'node:fs';
import { dirname, join } from 'node:path';
import { Fault } from '../core/fault.ts';
import { systemCode } from '../core/system-code.ts';
import { isAlive } from './process-mark.ts';

let drafts = 0;
/** The name of an unfinished file, which says whose it is. */
export const draftName = (folder: string): string => join(folder, `.tallydock-copy.${process.pid}.${++drafts}.draft`);
const DRAFT = /^\.tallydock-copy\.(\d+)\.\d+\.draft(?:-journal|-wal|-shm)?$/;

/** Removes what backups that were killed have left: it holds people's results. */
export function sweepDrafts(folder: string): void {
  if (!existsSync(folder)) return;
  for (const name of readdirSync(folder)) {
    const pid = Number(DRAFT.exec(name)?.[1] ?? Number.NaN);
    if (Number.isInteger(pid) && !isAlive({ pid })) rmSync(join(folder, name), { force: true });
  }
}

/**
 * Makes the draft as an empty file that only its owner may read, before anything is in it. Throws FILE_UNWRITABLE with the
 * name of the target.
 */
export function claim(draft: string, target: string): void {
  try {
    closeSync(openSync(draft, 'wx', 0o600));
  } catch (cause) {
    throw unwritable(target, 'the folder is not there or may not be written', cause);
  }
}

/** Copies a file into a draft that only its owner may read. */
export function copyInto(file: string, draft: string): void {
  closeSync(openSync(draft, 'wx', 0o600));
  copyFileSync(file, draft);
}

/**
 * Gives a finished draft its name, which nothing may have yet. After it returns the file survives a power cut. Throws
 * FILE_UNWRITABLE.
 */
export function publish(draft: string, target: string): void {
  try {
    syncPath(draft);
    try {
      linkSync(draft, target);
    } catch (thrown) {
      if (systemCode(thrown) === 'EEXIST') throw thrown;
      // A file system without hard links, such as that of many memory sticks.
      if (existsSync(target)) throw thrown;
      renameSync(draft, target);
    }
    if (process.platform !== 'win32') syncPath(dirname(target));
  } catch (cause) {
    throw existsSync(target) ? alreadyThere(target, cause) : unwritable(target, 'it cannot be written', cause);
  }
}

function syncPath(path: string): void {
  const file = openSync(path, statSync(path).isDirectory() ? 'r' : 'r+');
  try {
    fsyncSync(file);
  } finally {
    closeSync(file);
  }
}

/** Removes a draft with what SQLite may have left beside it. */
export function discard(draft: string): void {
  for (const end of ['', '-journal', '-wal', '-shm']) rmSync(draft + end, { force: true });
}

/** The fault of a name that is taken. */
export const alreadyThere = (file: string, cause?: unknown): Fault =>
  new Fault('FILE_UNWRITABLE', `${file} is there already`, 'Name a new file, or a folder together with --keep.', {
    cause,
  });

/** The fault of a file that cannot be written. */
export const unwritable = (file: string, why: string, cause: unknown): Fault =>
  new Fault(
    'FILE_UNWRITABLE',
    `${file} cannot be written: ${why}`,
    'Check the folder, its rights and the room there.',
    {
      cause,
    },
  );
