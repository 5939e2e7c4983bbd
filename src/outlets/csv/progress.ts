/**
 * How far a CSV outlet had come before the batch that it is writing, in a small file beside its own. It only spares the
 * outlet from reading all its files again: where it is missing or old, they are read.
 */
import { readFile, rename, writeFile } from 'node:fs/promises';
import { join } from 'node:path';
import { z } from 'zod';

const Progress = z.strictObject({
  /** The file that was being written. */
  file: z.string(),
  /** Its size before the batch: a row begins there. */
  size: z.int().nonnegative(),
  /** The newest place in the log that was ever written before the batch. */
  seq: z.int().nonnegative(),
});
export type Progress = z.infer<typeof Progress>;

const pathIn = (folder: string): string => join(folder, '.tallydock-csv.json');

/** What stands in the folder; nothing where it cannot be used. */
export async function readProgress(folder: string): Promise<Progress | undefined> {
  try {
    return Progress.parse(JSON.parse(await readFile(pathIn(folder), 'utf8')));
  } catch {
    return undefined; // missing, or torn by a power cut: then all files are read
  }
}

/** Replaces it in one move. */
export async function writeProgress(folder: string, progress: Progress): Promise<void> {
  const draft = `${pathIn(folder)}.part`;
  await writeFile(draft, JSON.stringify(progress), { mode: 0o600 });
  await rename(draft, pathIn(folder));
}
