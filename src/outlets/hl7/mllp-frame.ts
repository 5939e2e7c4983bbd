/**
 * MLLP framing, release 1: 0B, message, 1C 0D. Bytes in, messages out; nothing else is known of the stream. What lies
 * between frames is noise and skipped. Pure.
 */

const START = 0x0b;
const END = 0x1c;
const CR = 0x0d;

/** Longest answer that is read, bytes. An acknowledgement has a few hundred. */
export const LONGEST_FRAME = 1024 * 1024;

/** A message in its frame. Its text must hold neither 0B nor 1C: the escapes see to that. */
export const frame = (text: string): Buffer => Buffer.from(`\u000b${text}\u001c\r`, 'utf8');

/** Takes frames out of a stream that is cut anywhere. */
export interface FrameReader {
  /** The messages that a chunk completes. A frame longer than `LONGEST_FRAME` is dropped. */
  push(chunk: Uint8Array): readonly string[];
}

/** A reader for one connection. */
export function createFrameReader(): FrameReader {
  let inside: number[] | undefined;
  let isEnding = false;
  return {
    push(chunk) {
      const messages: string[] = [];
      for (const byte of chunk) {
        if (inside && isEnding && byte === CR) {
          messages.push(Buffer.from(inside).toString('utf8'));
          inside = undefined;
        } else if (byte === START) inside = [];
        else if (inside) {
          // 1C without CR behind it is no end; it stays part of the message.
          if (isEnding) inside.push(END);
          if (byte !== END) inside.push(byte);
          if (inside.length > LONGEST_FRAME) inside = undefined;
        }
        isEnding = inside !== undefined && byte === END;
      }
      return messages;
    },
  };
}
