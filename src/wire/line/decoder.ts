/**
 * Cuts the byte stream of one meter into TLP/1 lines. Bytes in, frames out; where the chunks are cut has no meaning.
 * Never holds more than one line: what is longer is dropped up to the next LF, where the decoder is back in step.
 * Checks length, characters and CRC, nothing else. The core is a pure step over a small state, so that a
 * conversation can carry it; `createLineDecoder` wraps it for those who stream.
 */
import { MAX_BODY, MAX_LINE } from './codec.ts';
import { CRC_START, crc16 } from './crc16.ts';

/** What can arrive on the line, garbage included. */
export type LineFrame =
  /** A line whose CRC is right. `body` is its text without `*` and check; END's sum runs over it. */
  | { readonly kind: 'line'; readonly body: string }
  /**
   * Bytes that were dropped. `damaged`: a line whose check or characters are wrong; `too-long`: more than 240 bytes
   * before the next LF; `noise`: nothing in it looks like the end of a line; `cut`: the stream ended inside a line.
   */
  | { readonly kind: 'discarded'; readonly reason: 'damaged' | 'too-long' | 'noise' | 'cut'; readonly length: number };

/** An unfinished line between two chunks: at most 240 bytes, or only their number once it is too long. */
export interface LineTail {
  readonly bytes: Uint8Array;
  /** Bytes of the unfinished line so far; more than `bytes` holds where it has become too long. */
  readonly length: number;
}

const NOTHING = new Uint8Array(0);
/** The state between two lines. */
export const NO_TAIL: LineTail = { bytes: NOTHING, length: 0 };

const CR = 0x0d;
const STAR = 0x2a;

/** Takes one more chunk: the frames that it completes, and what is left over. Pure. */
export function decodeChunk(tail: LineTail, chunk: Uint8Array): { tail: LineTail; frames: LineFrame[] } {
  const frames: LineFrame[] = [];
  const text = latin1(chunk);
  let start = 0;
  let held = tail;
  for (;;) {
    const lf = text.indexOf('\n', start);
    if (lf < 0) break;
    const frame = held.length === 0 ? lineFrame(chunk, text, start, lf) : joinedFrame(held, chunk, start, lf);
    if (frame) frames.push(frame);
    held = NO_TAIL;
    start = lf + 1;
  }
  return { tail: start < chunk.length ? extend(held, chunk.subarray(start)) : held, frames };
}

/** The frame that the end of the stream leaves: an unfinished line is dropped. */
export function endOfStream(tail: LineTail): LineFrame[] {
  return tail.length === 0 ? [] : [{ kind: 'discarded', reason: 'cut', length: tail.length }];
}

function extend(held: LineTail, more: Uint8Array): LineTail {
  const length = held.length + more.length;
  // The LF is still to come, so 240 bytes without one are already too long.
  if (length >= MAX_LINE) return { bytes: NOTHING, length };
  const bytes = new Uint8Array(length);
  bytes.set(held.bytes);
  bytes.set(more, held.length);
  return { bytes, length };
}

function joinedFrame(held: LineTail, chunk: Uint8Array, start: number, lf: number): LineFrame | undefined {
  if (held.length + lf - start >= MAX_LINE)
    return { kind: 'discarded', reason: 'too-long', length: held.length + lf - start + 1 };
  const { bytes } = extend(held, chunk.subarray(start, lf));
  return lineFrame(bytes, latin1(bytes), 0, bytes.length);
}

/**
 * The frame of the bytes from `start` up to the LF at `lf`; undefined for an empty line. `text`: the same bytes, one
 * character each.
 */
export function lineFrame(bytes: Uint8Array, text: string, start: number, lf: number): LineFrame | undefined {
  const length = lf - start + 1;
  if (length > MAX_LINE) return { kind: 'discarded', reason: 'too-long', length };
  const end = lf > start && bytes[lf - 1] === CR ? lf - 1 : lf;
  if (end === start) return undefined;
  const star = end - 5;
  if (star < start || bytes[star] !== STAR) return { kind: 'discarded', reason: 'noise', length };
  const isForm = star > start && star - start <= MAX_BODY && text.indexOf('*', start) === star;
  if (isForm && readHex4(bytes, star + 1) === crc16(bytes, CRC_START, start, star) && isPrintable(bytes, start, star))
    return { kind: 'line', body: text.slice(start, star) };
  return { kind: 'discarded', reason: 'damaged', length };
}

function isPrintable(bytes: Uint8Array, start: number, end: number): boolean {
  // Negative once a byte lies outside 20 to 7E: the sign survives the or.
  let outside = 0;
  for (let i = start; i < end; i++) outside |= ((bytes[i] as number) - 0x20) | (0x7e - (bytes[i] as number));
  return outside >= 0;
}

/** Four upper-case hexadecimal digits as a number, or -1. */
function readHex4(bytes: Uint8Array, at: number): number {
  let value = 0;
  for (let i = at; i < at + 4; i++) {
    const c = bytes[i] as number;
    if (c >= 0x30 && c <= 0x39) value = value * 16 + c - 0x30;
    else if (c >= 0x41 && c <= 0x46) value = value * 16 + c - 0x37;
    else return -1;
  }
  return value;
}

const latin1 = (bytes: Uint8Array): string =>
  Buffer.from(bytes.buffer, bytes.byteOffset, bytes.byteLength).toString('latin1');

/** A decoder that keeps its own place in the stream. Make a fresh one at every open. */
export interface LineDecoder {
  push(chunk: Uint8Array): LineFrame[];
  /** The stream is over: an unfinished line is reported as `cut`. */
  end(): LineFrame[];
}

/** A decoder for one stream of bytes. No byte string makes it throw. */
export function createLineDecoder(): LineDecoder {
  let tail = NO_TAIL;
  return {
    push(chunk) {
      const next = decodeChunk(tail, chunk);
      tail = next.tail;
      return next.frames;
    },
    end() {
      const frames = endOfStream(tail);
      tail = NO_TAIL;
      return frames;
    },
  };
}
