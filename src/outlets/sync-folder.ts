/** Makes names in a folder last through a power cut: a new or renamed file is only safe once its folder is. */
import { open } from 'node:fs/promises';

/** Writes a folder's names to the disk. Windows has no such call and keeps them by itself: nothing is done there. */
export async function syncFolder(folder: string): Promise<void> {
  if (process.platform === 'win32') return;
  const handle = await open(folder, 'r');
  try {
    await handle.sync();
  } finally {
    await handle.close();
  }
}
