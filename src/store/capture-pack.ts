/**
 * The packed form of a closed capture, and its fingerprint. Packed: the times, directions and lengths of all chunks
 * as one JSON line, LF, then their bytes end to end; all of it compressed with zlib.
 */
import { createHash } from 'node:crypto';
import { deflateSync, inflateSync } from 'node:zlib';
import { z } from 'zod';
import type { Capture, CaptureChunk } from '../core/capture.ts';
import { Fault } from '../core/fault.ts';
import { formatInstant, instant } from '../core/instant.ts';

const Index = z.strictObject({
  /** Time of each chunk, milliseconds since 1970 UTC. */
  at: z.array(z.int()),
  /** One letter a chunk: i = from the meter, o = to it. */
  dir: z.string().regex(/^[io]*$/),
  /** Bytes in each chunk. */
  length: z.array(z.int().nonnegative()),
});

/** Captures hold short lines of ASCII: the fastest level already finds nearly all there is to save. */
const LEVEL = 1;

/** All chunks as one blob. */
export function packChunks(chunks: readonly CaptureChunk[]): Uint8Array {
  const index: z.infer<typeof Index> = {
    at: chunks.map((c) => c.at),
    dir: chunks.map((c) => c.dir.charAt(0)).join(''),
    length: chunks.map((c) => c.data.length),
  };
  return deflateSync(Buffer.concat([Buffer.from(`${JSON.stringify(index)}\n`), ...chunks.map((c) => c.data)]), {
    level: LEVEL,
  });
}

/** The chunks of a blob. Throws STORE_DAMAGED where the blob is not what `packChunks` made. */
export function unpackChunks(packed: Uint8Array): CaptureChunk[] {
  try {
    const bytes = inflateSync(packed);
    const end = bytes.indexOf(10);
    const index = Index.parse(JSON.parse(bytes.toString('utf8', 0, end)));
    let from = end + 1;
    const chunks = index.at.map((at, i): CaptureChunk => {
      const to = from + (index.length[i] ?? 0);
      const data = new Uint8Array(bytes.subarray(from, to));
      from = to;
      return { at: instant(at), dir: index.dir[i] === 'i' ? 'in' : 'out', data };
    });
    if (from !== bytes.length) throw new Error(`${bytes.length - from} bytes too many`);
    return chunks;
  } catch (cause) {
    throw new Fault('STORE_DAMAGED', 'The stored bytes of a conversation cannot be read', 'Restore the last backup.', {
      cause,
    });
  }
}

/**
 * SHA-256, in hex, of the capture's text in its file form (see the contract) without the closing line: header and
 * chunks, one JSON line each. Two captures with the same fingerprint are the same conversation.
 */
export function fingerprint(capture: Capture): string {
  const hash = createHash('sha256');
  const { port, profile, zone, openedAt, clockStepS } = capture;
  const step = clockStepS === undefined ? {} : { clockStepS };
  hash.update(`${JSON.stringify({ capture: 1, port, profile, zone, openedAt: formatInstant(openedAt), ...step })}\n`);
  for (const { at, dir, data } of capture.chunks) {
    const base64 = Buffer.from(data.buffer, data.byteOffset, data.byteLength).toString('base64');
    hash.update(`{"at":"${formatInstant(at)}","dir":"${dir}","data":"${base64}"}\n`);
  }
  return hash.digest('hex');
}
