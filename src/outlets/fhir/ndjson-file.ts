/**
 * A file of NDJSON that only ever holds whole deliveries. What is handed over is written behind the last byte and on
 * the disk before it counts; what a crash left unfinished is cut off at the next opening. The last line of a delivery
 * is its Provenance, so a delivery is whole exactly where that line is.
 */
import { constants } from 'node:fs';
import { type FileHandle, open } from 'node:fs/promises';
import { Fault } from '../../core/fault.ts';

/** Bytes from the end of a file that are looked through. Far more than one batch, which is all that can come twice. */
const TAIL_BYTES = 4 * 1024 * 1024;

const OURS = '{"resourceType":"';
const LAST_LINE = '{"resourceType":"Provenance"';

/** What the end of a file holds. */
export interface FileEnd {
  /** Where the last whole delivery ends. */
  readonly bytes: number;
  /** The last lines of the deliveries that were seen, oldest first. */
  readonly marks: readonly string[];
}

/**
 * Opens a file for writing (made if it is not there, readable by its owner only) and cuts off an unfinished delivery.
 * A file of exactly `knownBytes` is as its writer left it and is not looked through. Throws OUTLET_INVALID for a file
 * that this program did not write, which is left as it is.
 */
export async function openRepaired(path: string, knownBytes?: number): Promise<{ handle: FileHandle; end: FileEnd }> {
  // Not for appending: on Windows such a file cannot be cut back.
  const handle = await open(path, constants.O_RDWR | constants.O_CREAT, 0o600);
  try {
    const { size } = await handle.stat();
    if (size === knownBytes) return { handle, end: { bytes: size, marks: [] } };
    const end = await findEnd(handle, path);
    if (size > end.bytes) {
      await handle.truncate(end.bytes);
      await handle.sync();
    }
    return { handle, end };
  } catch (thrown) {
    await handle.close();
    throw thrown;
  }
}

/** What the end of a file holds, without changing it. */
export async function findEnd(handle: FileHandle, path: string): Promise<FileEnd> {
  const { size } = await handle.stat();
  if (size === 0) return { bytes: 0, marks: [] };
  const head = await readAt(handle, 0, Math.min(size, OURS.length));
  if (!OURS.startsWith(head.toString('latin1')))
    throw new Fault(
      'OUTLET_INVALID',
      `${path} was not written by this program`,
      'Move it away, or choose another folder',
    );
  for (let wanted = TAIL_BYTES; ; wanted *= 2) {
    const from = Math.max(0, size - wanted);
    const found = endIn(await readAt(handle, from, size - from), from);
    if (found.marks.length > 0 || from === 0) return found;
  }
}

/** Finds the deliveries in a piece of a file that begins at byte `from`. */
function endIn(piece: Buffer, from: number): FileEnd {
  // Unless the piece is the whole file, it may begin in the middle of a line.
  let at = from === 0 ? 0 : piece.indexOf(10) + 1;
  let bytes = from === 0 ? 0 : from + at;
  const marks: string[] = [];
  for (;;) {
    const lineEnd = piece.indexOf(10, at);
    if (lineEnd < 0) return { bytes, marks };
    if (piece.toString('latin1', at, at + LAST_LINE.length) === LAST_LINE) {
      marks.push(piece.toString('utf8', at, lineEnd));
      bytes = from + lineEnd + 1;
    }
    at = lineEnd + 1;
  }
}

async function readAt(handle: FileHandle, from: number, length: number): Promise<Buffer> {
  const buffer = Buffer.alloc(length);
  let done = 0;
  while (done < length) {
    const { bytesRead } = await handle.read(buffer, done, length - done, from + done);
    if (bytesRead === 0) break;
    done += bytesRead;
  }
  return buffer.subarray(0, done);
}
