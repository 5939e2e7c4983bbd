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

type Phase = 'between' | 'number' | 'text' | 'sum1' | 'sum2' | 'after-sum' | 'after-cr';

/** What a decoder remembers between two chunks. Plain data; its fields are the decoder's own business. */
export interface FrameState {
  readonly phase: Phase;
  /** The frame in hand: number, text so far and its length, running sum, told sum, kind of end, why it is lost already. */
  readonly number: number;
  readonly text: string;
  readonly length: number;
  readonly sum: number;
  readonly told: number;
  readonly isLast: boolean;
  readonly doom: BadFrameReason | undefined;
  readonly previous: number;
  /** What lies between frames: noise not yet told, whether there was any, and whether a frame's end was in it. */
  readonly noise: number;
  readonly isNoisy: boolean;
  readonly noiseHasEnd: boolean;
  /** True behind a refused frame: its rest may follow and gets no second answer. */
  readonly isTail: boolean;
}

/** The state at the opening of a port. */
export const NO_FRAME: FrameState = {
  phase: 'between',
  number: 0,
  text: '',
  length: 0,
  sum: 0,
  told: 0,
  isLast: false,
  doom: undefined,
  previous: 0,
  noise: 0,
  isNoisy: false,
  noiseHasEnd: false,
  isTail: false,
};

/** A decoder of one byte stream. Make a fresh one at every open. */
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
  /** What it remembers now; a new decoder made from it goes on from here. */
  readonly state: FrameState;
}

/** A decoder that begins at a state; it changes neither the state nor a chunk that it is given. */
export function createFrameDecoder(from: FrameState = NO_FRAME): FrameDecoder {
  let events: LinkEvent[] = [];
  const machine = new FrameMachine(from, (event) => events.push(event));
  const take = (): LinkEvent[] => {
    const told = events;
    events = [];
    return told;
  };
  return {
    push(chunk) {
      machine.push(chunk, byteText(chunk), 0, chunk.length);
      return take();
    },
    quiet() {
      machine.quiet();
      return take();
    },
    get awaitsQuiet() {
      return machine.awaitsQuiet();
    },
    get state() {
      return { ...machine.s };
    },
  };
}

/** Bytes as a text of one character each. */
const byteText = (bytes: Uint8Array): string =>
  Buffer.from(bytes.buffer, bytes.byteOffset, bytes.length).toString('latin1');

/** What a machine is given to tell its events to. `end`: where in the bytes stands what follows the one that completed it. */
export type TellEvent = (event: LinkEvent, end: number) => void;

/** The decoder itself, for those who have a stream as a whole: it takes the stream piece by piece and tells by calls. */
export class FrameMachine {
  readonly s: { -readonly [K in keyof FrameState]: FrameState[K] };
  private readonly tell: TellEvent;
  /** Where in the bytes the one in hand ends. */
  private at = 0;

  constructor(from: FrameState, tell: TellEvent) {
    this.s = { ...from };
    this.tell = tell;
  }

  /** Takes the bytes from `start` up to `end`. `asText`: all the bytes, one character each. */
  push(bytes: Uint8Array, asText: string, start: number, end: number): void {
    const { s } = this;
    let i = start;
    while (i < end) {
      if (s.phase === 'text') i = this.takeText(bytes, asText, i, end);
      else if (s.phase === 'between') i = this.takeFrame(bytes, asText, i, end);
      if (i === end) break;
      const byte = bytes[i] as number;
      this.at = ++i;
      this.step(byte);
      s.previous = byte;
    }
    this.at = end;
    this.tellNoise(); // at once, so that nobody waits for the byte after it
  }

  /** A frame that lies whole and sound in the chunk: the usual case, in one go. Else nothing is taken. */
  private takeFrame(bytes: Uint8Array, asText: string, start: number, end: number): number {
    const number = (bytes[start + 1] as number) - 0x30;
    if (bytes[start] !== STX || !(number >= 0 && number <= 7)) return start;
    let sum = number + 0x30;
    let i = start + 2;
    let byte = 0;
    for (; i < end; i++) {
      byte = bytes[i] as number;
      sum += byte;
      if (byte < 0x20 && RESTRICTED[byte] === 1) break;
    }
    const isSound =
      i + 4 < end &&
      (byte === ETX || byte === ETB) &&
      ((hexValue(bytes[i + 1] as number) << 4) | hexValue(bytes[i + 2] as number)) === (sum & 0xff) &&
      bytes[i + 3] === CR &&
      bytes[i + 4] === LF &&
      i - start - 2 <= MAX_TEXT;
    if (!isSound) return start;
    this.at = i + 5;
    this.endNoise();
    this.s.isTail = false;
    this.s.previous = LF;
    this.tell({ kind: 'frame', number, text: asText.slice(start + 2, i), last: byte === ETX }, this.at);
    return this.at;
  }

  /** A run of plain text of a frame that spans chunks or is damaged. */
  private takeText(bytes: Uint8Array, asText: string, start: number, end: number): number {
    const { s } = this;
    let i = start;
    let sum = 0;
    while (i < end) {
      const byte = bytes[i] as number;
      if (RESTRICTED[byte] === 1) break;
      sum += byte;
      i++;
    }
    if (i === start) return i;
    s.sum += sum;
    s.length += i - start;
    s.previous = bytes[i - 1] as number;
    if (s.length > MAX_TEXT) s.doom ??= 'too-long';
    s.text = s.doom === undefined ? s.text + asText.slice(start, i) : '';
    return i;
  }

  /** See `FrameDecoder.quiet`. */
  quiet(): void {
    const { s } = this;
    if (s.phase === 'after-sum' || s.phase === 'after-cr') this.finish(false);
    else if (this.awaitsQuiet()) {
      this.abandon();
      this.control(s.previous);
    }
  }

  /** See `FrameDecoder.awaitsQuiet`. */
  awaitsQuiet(): boolean {
    const { phase, previous } = this.s;
    return (
      phase === 'after-sum' || phase === 'after-cr' || (phase === 'text' && (previous === ENQ || previous === EOT))
    );
  }

  private step(byte: number): void {
    const { s } = this;
    switch (s.phase) {
      case 'between':
        this.stray(byte);
        break;
      case 'number':
        s.phase = 'text';
        if (byte === LF) {
          // A lone STX before a line end is a damaged CR: no frame, so nothing to refuse.
          this.abandon();
        } else if (byte >= 0x30 && byte <= 0x37) {
          s.number = byte - 0x30;
          s.sum = byte;
        } else {
          s.doom = 'number';
          if (RESTRICTED[byte] === 1) this.special(byte);
        }
        break;
      case 'text':
        this.special(byte);
        break;
      case 'sum1':
      case 'sum2': {
        const digit = hexValue(byte);
        if (digit < 0) this.falseEnd(byte);
        else if (s.phase === 'sum1') {
          s.told = digit << 4;
          s.phase = 'sum2';
        } else {
          s.told |= digit;
          s.phase = 'after-sum';
        }
        break;
      }
      case 'after-sum':
        if (byte === CR) s.phase = 'after-cr';
        else if (byte === LF) this.finish(false);
        else if (byte === STX || byte === ENQ || byte === EOT || byte === ACK || byte === NAK) {
          this.finish(false);
          this.stray(byte);
        } else this.falseEnd(byte);
        break;
      case 'after-cr':
        this.finish(byte !== LF);
        if (byte !== LF) this.stray(byte);
        break;
    }
  }

  /** A byte between frames. */
  private stray(byte: number): void {
    const { s } = this;
    if (byte === STX) this.startFrame();
    else if (byte === ENQ || byte === ACK || byte === NAK || byte === EOT) this.control(byte);
    else if (byte === LF && s.noiseHasEnd && !s.isTail) {
      this.endNoise();
      this.tell({ kind: 'bad-frame', reason: 'no-start' }, this.at);
    } else if (s.isNoisy || (byte !== CR && byte !== LF)) {
      s.noise++;
      s.isNoisy = true;
      s.noiseHasEnd ||= byte === ETX || byte === ETB;
    }
  }

  /** A byte in a frame's text that may not stand there. */
  private special(byte: number): void {
    const { s } = this;
    const isAnew = (s.previous === ENQ && byte === STX) || (s.previous === EOT && (byte === ENQ || byte === STX));
    if (isAnew) {
      this.abandon();
      this.control(s.previous);
      this.stray(byte);
    } else if (byte === STX) {
      this.abandon();
      this.startFrame();
    } else if (byte === ETX || byte === ETB) {
      s.sum += byte;
      s.isLast = byte === ETX;
      s.phase = 'sum1';
    } else if (byte === LF) this.finish(true);
    else {
      s.doom ??= 'restricted';
      s.length++;
    }
  }

  private startFrame(): void {
    const { s } = this;
    this.endNoise();
    s.phase = 'number';
    s.text = '';
    s.length = 0;
    s.sum = 0;
    s.doom = undefined;
  }

  /** The bytes that looked like a frame's end were not: the frame is lost, its true end is still to come. */
  private falseEnd(byte: number): void {
    this.s.doom ??= 'no-end';
    this.s.phase = 'text';
    if (RESTRICTED[byte] === 1) this.special(byte);
  }

  /** Ends the frame in hand, good or bad. */
  private finish(tailMayFollow: boolean): void {
    const { s } = this;
    const reason = s.doom ?? (s.phase === 'text' ? 'no-end' : s.told === (s.sum & 0xff) ? undefined : 'sum');
    if (reason === undefined) this.tell({ kind: 'frame', number: s.number, text: s.text, last: s.isLast }, this.at);
    else this.tell({ kind: 'bad-frame', reason }, this.at);
    s.isTail = reason !== undefined && tailMayFollow;
    s.phase = 'between';
    s.text = '';
  }

  /** Gives up the frame in hand because its sender began anew. */
  private abandon(): void {
    const { s } = this;
    s.noise += s.length + 1;
    s.phase = 'between';
    s.text = '';
    this.endNoise();
  }

  private control(byte: number): void {
    this.endNoise();
    this.s.isTail = false;
    this.tell(
      { kind: 'control', code: byte === ENQ ? 'ENQ' : byte === ACK ? 'ACK' : byte === NAK ? 'NAK' : 'EOT' },
      this.at,
    );
  }

  private tellNoise(): void {
    if (this.s.noise > 0) this.tell({ kind: 'noise', bytes: this.s.noise }, this.at);
    this.s.noise = 0;
  }

  private endNoise(): void {
    this.tellNoise();
    this.s.isNoisy = false;
    this.s.noiseHasEnd = false;
  }
}
