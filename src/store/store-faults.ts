/**
 * The one place where an error of SQLite or of the file system below it becomes a Fault with a next step.
 */

import { asFault, Fault } from '../core/fault.ts';
import { systemCode } from '../core/system-code.ts';

const FULL = /^(SQLITE_FULL|ENOSPC|EDQUOT)/;
const BUSY = /^(SQLITE_BUSY|SQLITE_LOCKED|EBUSY)/;
const DENIED =
  /^(SQLITE_CANTOPEN|SQLITE_READONLY|SQLITE_PERM|SQLITE_AUTH|EACCES|EPERM|EROFS|EISDIR|ENOTDIR|EEXIST|ENOENT)/;
const DAMAGED = /^(SQLITE_CORRUPT|SQLITE_NOTADB)/;

/** Whether another program holds what was asked for. */
export const isBusy = (thrown: unknown): boolean => BUSY.test(systemCode(thrown));

/** Turns what SQLite or the file system threw about the store at `path` into a Fault; Faults pass through. */
export function storeFault(thrown: unknown, path: string): Fault {
  if (thrown instanceof Fault) return thrown;
  const cause = { cause: thrown };
  const code = systemCode(thrown);
  if (FULL.test(code))
    return new Fault(
      'STORE_FULL',
      `No room left to write ${path}`,
      'Free some disk space, then try again; nothing that was stored is lost.',
      cause,
    );
  if (isBusy(thrown))
    return new Fault(
      'STORE_BUSY',
      `${path} is being written by another program`,
      'Wait a moment and try again; stop a second tallydock that hangs.',
      cause,
    );
  if (DENIED.test(code))
    return new Fault(
      'STORE_DENIED',
      `Not allowed to open or write ${path}`,
      'Check that the folder and its files belong to you and can be written, or choose another with --data.',
      cause,
    );
  if (DAMAGED.test(code))
    return new Fault(
      'STORE_DAMAGED',
      `${path} is damaged or is not a tallydock store`,
      'Do not delete it: copy the file away, then restore the last backup or choose another folder with --data.',
      cause,
    );
  if (code.startsWith('SQLITE_IOERR'))
    return new Fault(
      'STORE_DAMAGED',
      `The disk failed while ${path} was read or written (${code})`,
      'Check the disk and its cable, and copy the file to a safe place.',
      cause,
    );
  return asFault(thrown);
}
