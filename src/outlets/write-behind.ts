/** Writing at the end of a file so that a crash or a full disk leaves what stood before as it was. */
import type { FileHandle } from 'node:fs/promises';

/** Writes behind byte `end` and waits for the disk; cuts the file back to `end` if that fails. No bytes: does nothing. */
export async function writeBehind(handle: FileHandle, bytes: Buffer, end: number): Promise<void> {
  if (bytes.length === 0) return;
  try {
    for (let done = 0; done < bytes.length; ) {
      const { bytesWritten } = await handle.write(bytes, done, bytes.length - done, end + done);
      done += bytesWritten;
    }
    await handle.sync();
  } catch (thrown) {
    await handle.truncate(end).catch(() => {}); // where the disk does not let us, the next opening does it
    throw thrown;
  }
}
