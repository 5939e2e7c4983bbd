/** Writing a file that is either complete or not there. */
import { closeSync, fsyncSync, openSync, renameSync, rmSync, writeSync } from 'node:fs';
import { basename, dirname, join } from 'node:path';
import { Fault } from '../core/fault.ts';

/** The same for one text. Throws FILE_UNWRITABLE. */
export const writeWhole = (target: string, text: string): void => void writePieces(target, () => [{ text, count: 1 }]);

/**
 * Writes pieces to a new file beside the target and moves it there when all is on the disk, so that nobody ever sees
 * half a file. Only its owner may read it: it holds patients' results. Throws FILE_UNWRITABLE.
 */
export function writePieces(target: string, pieces: () => Iterable<{ text: string; count: number }>): number {
  const draft = join(dirname(target), `.${basename(target)}.${process.pid}.part`);
  const hint = 'Check that the folder exists and may be written, and that there is room on the disk';
  const unwritable = (cause: unknown) => new Fault('FILE_UNWRITABLE', `${target} cannot be written`, hint, { cause });
  const trying = <T>(work: () => T): T => {
    try {
      return work();
    } catch (cause) {
      rmSync(draft, { force: true });
      throw unwritable(cause);
    }
  };
  const file = trying(() => openSync(draft, 'wx', 0o600));
  let count = 0;
  try {
    for (const piece of pieces()) {
      trying(() => writeSync(file, piece.text));
      count += piece.count;
    }
    trying(() => fsyncSync(file));
  } catch (thrown) {
    rmSync(draft, { force: true });
    throw thrown;
  } finally {
    closeSync(file);
  }
  trying(() => renameSync(draft, target));
  return count;
}
