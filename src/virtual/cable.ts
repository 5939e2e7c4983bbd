/**
 * A cable between a speaker and a host that is played by a script: bytes need their time at the baud rate, and the
 * cable can be pulled at any byte. Nothing really waits; the capture that a gateway would have written comes out.
 */
import type { CaptureChunk } from '../core/capture.ts';
import { type Instant, instant } from '../core/instant.ts';
import type { Chance } from './chance.ts';
import type { VirtualMeter } from './meter.ts';
import { byteMs } from './pacing.ts';
import type { Send, Speaker, SpeakerInput } from './speaker.ts';

export interface CableOptions {
  readonly baud: number;
  /** True: the host's reads cut the stream anywhere, as an operating system does; false: one read a line or frame. */
  readonly cutsReads: boolean;
  /** The cable is pulled behind this many bytes from the meter. */
  readonly pullAfter?: number;
}

/** What went over a cable. */
export interface Cable<S> {
  /** Something happens to the meter; what it then says arrives before this returns, line by line or frame by frame. */
  feed(input: SpeakerInput): readonly Uint8Array[];
  /** The host sends; the meter's answer arrives before this returns. Nothing arrives once the cable is pulled. */
  ask(data: Uint8Array): readonly Uint8Array[];
  /** The host waits. */
  pass(ms: number): void;
  now(): Instant;
  state(): S;
  isPulled(): boolean;
  readonly chunks: CaptureChunk[];
  /** Tests that were told whole, and the one whose telling was broken off, each by `made`. */
  readonly told: Set<number>;
  broken(): number | undefined;
  fromMeter(): number;
}

/** A cable that is plugged in at `from`. */
export function layCable<S extends { readonly meter: VirtualMeter }>(
  speaker: Speaker<S>,
  begin: S,
  from: Instant,
  options: CableOptions,
  chance: Chance,
): Cable<S> {
  const each = byteMs(options.baud);
  const chunks: CaptureChunk[] = [];
  const told = new Set<number>();
  let state = begin;
  let now: number = from;
  let arrived = 0;
  let isPulled = false;
  let open: number | undefined;

  /** Delivers what the meter sends; the last piece may be cut short. */
  const deliver = (sends: readonly Send[]): Uint8Array[] => {
    const pieces: { readonly start: number; readonly data: Uint8Array }[] = [];
    for (const send of sends) {
      if (isPulled) break;
      const left = (options.pullAfter ?? Number.POSITIVE_INFINITY) - arrived;
      const start = Math.max(now, send.from);
      const data = send.data.length > left ? send.data.subarray(0, left) : send.data;
      if (data.length > 0) pieces.push({ start, data });
      now = start + data.length * each;
      arrived += data.length;
      isPulled = send.data.length > left;
      if (send.tells) {
        const isWhole = data.length === send.data.length;
        if (isWhole && send.tells.last) told.add(send.tells.made);
        if (data.length > 0) open = isWhole && send.tells.last ? undefined : send.tells.made;
      }
    }
    if (options.cutsReads) cutReads(pieces);
    else for (const { start, data } of pieces) read(start + data.length * each, data);
    return pieces.map(({ data }) => data);
  };

  // Whole milliseconds never cut off the truth: what arrives is stamped no earlier than it did.
  const read = (at: number, data: Uint8Array): void => {
    chunks.push({ at: instant(Math.ceil(at)), dir: 'in', data });
  };

  /** The same bytes in reads of 1 to 90 bytes that know nothing of lines. */
  const cutReads = (pieces: readonly { readonly start: number; readonly data: Uint8Array }[]): void => {
    let gathered: Uint8Array[] = [];
    let room = chance.whole(1, 90);
    let lastAt = 0;
    const flush = (): void => {
      if (gathered.length > 0) read(lastAt, Buffer.concat(gathered));
      gathered = [];
      room = chance.whole(1, 90);
    };
    for (const { start, data } of pieces) {
      for (let i = 0; i < data.length; ) {
        const n = Math.min(room, data.length - i);
        gathered.push(data.subarray(i, i + n));
        i += n;
        room -= n;
        lastAt = start + i * each;
        if (room === 0) flush();
      }
    }
    flush();
  };

  const feed = (input: SpeakerInput): Uint8Array[] => {
    const next = speaker.step(state, input);
    state = next.state;
    return deliver(next.sends);
  };

  return {
    feed,
    ask(data) {
      // The host acts at a whole millisecond, so that its own chunks are stamped exactly.
      now = Math.ceil(now);
      chunks.push({ at: instant(now), dir: 'out', data });
      // A question that no byte can answer any more may have gone out just before the cable did, or not.
      if (arrived === options.pullAfter) isPulled = chance.happens(0.5);
      if (isPulled) return [];
      now += data.length * each;
      // A meter needs a moment to think.
      return feed({ kind: 'bytes', at: instant(now + chance.between(1, 15)), data });
    },
    pass(ms) {
      now += ms;
    },
    now: () => instant(Math.ceil(now)),
    state: () => state,
    isPulled: () => isPulled,
    chunks,
    told,
    broken: () => open,
    fromMeter: () => arrived,
  };
}
