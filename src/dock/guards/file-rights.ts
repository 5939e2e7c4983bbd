/** Are the folder and the files of the store closed to other accounts? */
import { readdirSync, statSync } from 'node:fs';
import { join } from 'node:path';
import { STORE_FILE } from '../../store/store-file.ts';

/** A file or folder that others may read or write. */
export interface OpenToOthers {
  readonly path: string;
  readonly isFolder: boolean;
}

/** True where the mode lets anybody but the owner do anything. */
const isOpenToOthers = (mode: number): boolean => (mode & 0o077) !== 0;

/**
 * The data folder, and the files of the store in it, that are open to others. Windows keeps rights in another way that
 * is not looked at: 'not known'. So is a folder that cannot be read.
 */
export function openToOthers(dir: string, platform: NodeJS.Platform): readonly OpenToOthers[] | 'not known' {
  if (platform === 'win32') return 'not known';
  try {
    const files = readdirSync(dir).filter((name) => name.startsWith(STORE_FILE));
    return ['', ...files]
      .map((name) => join(dir, name))
      .map((path) => ({ path, stat: statSync(path) }))
      .filter(({ stat }) => isOpenToOthers(stat.mode))
      .map(({ path, stat }) => ({ path, isFolder: stat.isDirectory() }));
  } catch {
    return 'not known'; // a folder that is not there or not ours: the store says so itself
  }
}
