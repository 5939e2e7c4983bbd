/**
 * Cuts a stream that lies there whole, as a capture does, into the same frames that `decodeChunk` cuts a running one
 * into. Joined once, its lines need not be put together from the pieces in which they came; how far the stream had come
 * is told from outside, so that each line can be given the time of the piece that completed it.
 */
import type { Stream } from '../stream-of.ts';
import { type LineFrame, lineFrame } from './decoder.ts';

export interface LineReader {
  /** So many more bytes have come. */
  more(bytes: number): void;
  /** The next frame that is complete by now; undefined where there is none. */
  next(): LineFrame | undefined;
}

/** A reader of a stream of which nothing has come yet. */
export function createLineReader({ bytes, text }: Stream): LineReader {
  let come = 0;
  let start = 0;
  let lf = text.indexOf('\n');
  return {
    more(length) {
      come += length;
    },
    next() {
      while (lf >= 0 && lf < come) {
        const frame = lineFrame(bytes, text, start, lf);
        start = lf + 1;
        lf = text.indexOf('\n', start);
        if (frame) return frame;
      }
      return undefined;
    },
  };
}
