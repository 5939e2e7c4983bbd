/**
 * Cuts the byte stream of one meter into E1381 frames and control characters. Chunks in, LinkEvents out; chunk borders
 * mean nothing. Memory is bounded by one frame. Knows nothing of timers, acknowledgements or records.
 *
 * A damaged byte must cost one refusal and no more: two answers to one frame would put sender and receiver out of
 * step. So a frame whose inside is damaged is reported once, at its end, and what a false end leaves behind is noise.
 */
import { ACK, CR, ENQ, EOT, ETB, ETX, hexValue, LF, MAX_TEXT, NAK, RESTRICTED, STX } from './link-bytes.ts';

export type ControlCode = 'ENQ' | 'ACK' | 'NAK' | 'EOT';

/** Why a frame is refused. `no-start`: its STX was lost; `no-end`: its ETX, ETB or line end was. */
export type BadFrameReason = 'sum' | 'number' | 'restricted' | 'no-start' | 'no-end' | 'too-long';

/** Everything that can come down the line. */
export type LinkEvent =
  | { readonly kind: 'control'; readonly code: ControlCode }
  /** A frame whose form and sum are right. `text` holds one character for each byte; `last`: ended by ETX, not ETB. */
  | { readonly kind: 'frame'; readonly number: number; readonly text: string; readonly last: boolean }
  | { readonly kind: 'bad-frame'; readonly reason: BadFrameReason }
  /** Bytes that belong to no frame. */
  | { readonly kind: 'noise'; readonly bytes: number };

/** A decoder for one opened port. Make a fresh one at every open. */
export interface FrameDecoder {
  /** Takes a chunk and gives what it completes. Never throws. */
  push(chunk: Uint8Array): LinkEvent[];
  /**
   * Says that the line is quiet: nothing followed for a while, or the other side has begun to answer. Settles what
   * hangs on whether more follows: a frame without its CR LF, or an ENQ or EOT in the place of a frame's rest.
   */
  quiet(): LinkEvent[];
  /** True while `quiet` would tell something. */
  readonly awaitsQuiet: boolean;
}

type Phase = 'between' | 'number' | 'text' | 'sum1' | 'sum2' | 'after-sum' | 'after-cr';

/** A decoder of one byte stream. */
export function createFrameDecoder(): FrameDecoder {
  let phase: Phase = 'between';
  let out: LinkEvent[] = [];
  // The frame in hand.
  let number = 0;
  let text = '';
  let length = 0;
  let sum = 0;
  let told = 0;
  let isLast = false;
  let doom: BadFrameReason | undefined;
  let previous = 0;
  // What lies between frames.
  let noise = 0;
  let isNoisy = false;
  let noiseHasEnd = false;
  /** True behind a refused frame: its rest may follow and gets no second answer. */
  let isTail = false;

  const tellNoise = (): void => {
    if (noise > 0) out.push({ kind: 'noise', bytes: noise });
    noise = 0;
  };
  const endNoise = (): void => {
    tellNoise();
    isNoisy = false;
    noiseHasEnd = false;
  };
  const control = (byte: number): void => {
    endNoise();
    isTail = false;
    out.push({ kind: 'control', code: byte === ENQ ? 'ENQ' : byte === ACK ? 'ACK' : byte === NAK ? 'NAK' : 'EOT' });
  };
  const startFrame = (): void => {
    endNoise();
    phase = 'number';
    text = '';
    length = 0;
    sum = 0;
    doom = undefined;
  };
  /** Ends the frame in hand, good or bad. */
  const finish = (tailMayFollow: boolean): void => {
    const reason = doom ?? (phase === 'text' ? 'no-end' : told === (sum & 0xff) ? undefined : 'sum');
    if (reason === undefined) out.push({ kind: 'frame', number, text, last: isLast });
    else out.push({ kind: 'bad-frame', reason });
    isTail = reason !== undefined && tailMayFollow;
    phase = 'between';
    text = '';
  };
  /** Gives up the frame in hand because its sender began anew. */
  const abandon = (): void => {
    noise += length + 1;
    phase = 'between';
    text = '';
    endNoise();
  };
  /** The bytes that looked like a frame's end were not: the frame is lost, its true end is still to come. */
  const falseEnd = (): void => {
    doom ??= 'no-end';
    phase = 'text';
  };

  /** A byte between frames. */
  const stray = (byte: number): void => {
    if (byte === STX) startFrame();
    else if (byte === ENQ || byte === ACK || byte === NAK || byte === EOT) control(byte);
    else if (byte === LF && noiseHasEnd && !isTail) {
      endNoise();
      out.push({ kind: 'bad-frame', reason: 'no-start' });
    } else if (isNoisy || (byte !== CR && byte !== LF)) {
      noise++;
      isNoisy = true;
      noiseHasEnd ||= byte === ETX || byte === ETB;
    }
  };

  /** A byte in a frame's text that may not stand there. */
  const special = (byte: number): void => {
    const isAnew = (previous === ENQ && byte === STX) || (previous === EOT && (byte === ENQ || byte === STX));
    if (isAnew) {
      abandon();
      control(previous);
      stray(byte);
    } else if (byte === STX) {
      abandon();
      startFrame();
    } else if (byte === ETX || byte === ETB) {
      sum += byte;
      isLast = byte === ETX;
      phase = 'sum1';
    } else if (byte === LF) finish(true);
    else {
      doom ??= 'restricted';
      length++;
    }
  };

  const step = (byte: number): void => {
    switch (phase) {
      case 'between':
        stray(byte);
        break;
      case 'number':
        phase = 'text';
        if (byte >= 0x30 && byte <= 0x37) {
          number = byte - 0x30;
          sum = byte;
        } else {
          doom = 'number';
          if (RESTRICTED[byte] === 1) special(byte);
        }
        break;
      case 'text':
        special(byte);
        break;
      case 'sum1':
      case 'sum2': {
        const digit = hexValue(byte);
        if (digit < 0) {
          falseEnd();
          if (RESTRICTED[byte] === 1) special(byte);
        } else if (phase === 'sum1') {
          told = digit << 4;
          phase = 'sum2';
        } else {
          told |= digit;
          phase = 'after-sum';
        }
        break;
      }
      case 'after-sum':
        if (byte === CR) phase = 'after-cr';
        else if (byte === LF) finish(false);
        else if (byte === STX || byte === ENQ || byte === EOT || byte === ACK || byte === NAK) {
          finish(false);
          stray(byte);
        } else {
          falseEnd();
          if (RESTRICTED[byte] === 1) special(byte);
        }
        break;
      case 'after-cr':
        finish(byte !== LF);
        if (byte !== LF) stray(byte);
        break;
    }
  };

  const take = (): LinkEvent[] => {
    const events = out;
    out = [];
    return events;
  };

  return {
    push(chunk) {
      const end = chunk.length;
      const bytes = Buffer.from(chunk.buffer, chunk.byteOffset, end);
      let i = 0;
      while (i < end) {
        if (phase === 'text') {
          // The hot loop: a run of plain text, summed and taken in one piece.
          const start = i;
          let byte = 0;
          let runSum = 0;
          while (i < end) {
            byte = bytes[i] ?? 0;
            if (RESTRICTED[byte] === 1) break;
            runSum += byte;
            i++;
          }
          sum += runSum;
          length += i - start;
          if (length > MAX_TEXT) doom ??= 'too-long';
          if (doom !== undefined) text = '';
          else if (i > start) text += bytes.toString('latin1', start, i);
          if (i > start) previous = bytes[i - 1] ?? 0;
          if (i === end) break;
        }
        const byte = bytes[i] ?? 0;
        step(byte);
        previous = byte;
        i++;
      }
      tellNoise(); // at once, so that nobody waits for the byte after it
      return take();
    },
    quiet() {
      if (phase === 'after-sum' || phase === 'after-cr') finish(false);
      else if (phase === 'text' && (previous === ENQ || previous === EOT)) {
        abandon();
        control(previous);
      }
      return take();
    },
    get awaitsQuiet() {
      return (
        phase === 'after-sum' || phase === 'after-cr' || (phase === 'text' && (previous === ENQ || previous === EOT))
      );
    },
  };
}
