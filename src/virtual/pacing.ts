/**
 * How bytes leave at a baud rate. Every byte has a moment at which it has left, counted from the beginning of its
 * stretch of sending and not from the timer before, so late timers do not add up. Pure arithmetic: the time is handed in.
 */

/** Bits on the line for one byte: start, eight data, stop. */
const BITS_A_BYTE = 10;
/** How long a piece is gathered before the port gets it: waking for every byte would only cost time. */
const PIECE_MS = 4;

/** Milliseconds that one byte needs on the line; 0 where there is no pace to keep. */
export const byteMs = (baud: number): number => (baud > 0 ? (BITS_A_BYTE * 1000) / baud : 0);

export interface Pacer {
  /** Puts bytes behind those already waiting; the first leaves no earlier than `from` (milliseconds). */
  push(from: number, data: Uint8Array): void;
  /**
   * The bytes that have left by `now`. `leftAt`: when the last of them left by the pace; `nextAt`: when to ask again,
   * absent where nothing waits.
   */
  take(now: number): { readonly data: Uint8Array; readonly leftAt: number; readonly nextAt?: number };
  /** Forgets what waits. */
  clear(): void;
}

/** A line of this baud rate; 0: bytes leave as soon as they may. */
export function createPacer(baud: number): Pacer {
  const each = byteMs(baud);
  const piece = each > 0 ? Math.max(1, Math.round(PIECE_MS / each)) : Number.POSITIVE_INFINITY;
  let waiting: { start: number; data: Uint8Array; left: number }[] = [];
  let freeAt = Number.NEGATIVE_INFINITY;
  return {
    push(from, data) {
      const start = Math.max(freeAt, from);
      freeAt = start + data.length * each;
      waiting.push({ start, data, left: 0 });
    },
    take(now) {
      const out: Uint8Array[] = [];
      let leftAt = Number.NEGATIVE_INFINITY;
      for (let head = waiting[0]; head; head = waiting[0]) {
        const { start, data, left } = head;
        // A hair of grace: a timer set for the very moment of a byte must find it.
        const due = now < start ? 0 : each === 0 ? data.length : Math.floor((now - start) / each + 1e-6);
        const upTo = Math.min(data.length, due);
        if (upTo > left) {
          out.push(data.subarray(left, upTo));
          leftAt = start + upTo * each;
          head.left = upTo;
        }
        if (upTo < data.length) {
          const nextAt = start + Math.min(data.length, upTo + piece) * each;
          return { data: Buffer.concat(out), leftAt, nextAt: each === 0 ? start : nextAt };
        }
        waiting.shift();
      }
      return { data: Buffer.concat(out), leftAt };
    },
    clear() {
      waiting = [];
      freeAt = Number.NEGATIVE_INFINITY;
    },
  };
}
