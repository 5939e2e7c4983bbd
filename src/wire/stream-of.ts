/** The bytes that a capture holds of one direction, as one stream. */
import type { CaptureChunk } from '../core/capture.ts';

/** A stream as bytes, and as text of one character a byte, from which lines and frames are cut. */
export interface Stream {
  readonly bytes: Uint8Array;
  readonly text: string;
}

/** All bytes that went in one direction, in their order. */
export function streamOf(chunks: readonly CaptureChunk[], wanted: CaptureChunk['dir']): Stream {
  let length = 0;
  for (const { dir, data } of chunks) if (dir === wanted) length += data.length;
  const bytes = Buffer.alloc(length);
  let at = 0;
  for (const { dir, data } of chunks) {
    if (dir !== wanted) continue;
    // Byte by byte: the chunks of a serial port are so small that a call for each would cost more.
    for (let i = 0; i < data.length; i++) bytes[at++] = data[i] as number;
  }
  return { bytes, text: bytes.toString('latin1') };
}
