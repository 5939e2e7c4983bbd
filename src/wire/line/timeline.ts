/**
 * A capture's chunks as what was asked and what was heard, each with its time. Both directions are cut into lines the
 * same way; a host's lines are read by the same grammar as a meter's. Told by calls, one after the other: a full memory
 * comes in tens of thousands of chunks, and a list of their events would cost more than reading them.
 */
import type { Capture } from '../../core/capture.ts';
import type { Instant } from '../../core/instant.ts';
import { streamOf } from '../stream-of.ts';
import { type Body, parseBody } from './codec.ts';
import { createLineReader } from './line-reader.ts';
import { type MeterMessage, parseMessage } from './messages.ts';

/** A silence of this length in the middle of an answer makes what follows doubtful. */
const SILENCE_MS = 2000;

/** The host sent a line; `at` is when its sending began. */
export interface Asked extends Body {
  readonly at: Instant;
}

/**
 * A good line of the meter was complete at `at`. `since`: when the last bytes before its own had arrived, or the port
 * was opened. `message` is undefined where a REC line cannot be used.
 */
export interface Heard {
  readonly at: Instant;
  readonly since: Instant;
  readonly afterSilence: boolean;
  readonly body: string;
  readonly message: MeterMessage | undefined;
}

/** Who is told what happened, in the order in which it did. */
export interface Listener {
  asked(event: Asked): void;
  heard(event: Heard): void;
  /** Something of the meter that was no good line. */
  dropped(): void;
  /** All that ended in a chunk was told; how many bytes it had. */
  chunkOver(at: Instant, bytes: number): void;
}

/** Tells the events of a capture, chunk by chunk. */
export function followTimeline({ chunks, openedAt }: Capture, listener: Listener): void {
  const meter = createLineReader(streamOf(chunks, 'in'));
  const host = createLineReader(streamOf(chunks, 'out'));
  let lastIn = openedAt;
  /** When the last bytes before the line that is now arriving had come. */
  let beforeLine = openedAt;
  for (const { at, dir, data } of chunks) {
    if (dir === 'out') {
      host.more(data.length);
      for (let frame = host.next(); frame; frame = host.next()) {
        const body = frame.kind === 'line' ? parseBody(frame.body) : undefined;
        if (body?.ok) listener.asked({ at, verb: body.value.verb, fields: body.value.fields });
      }
    } else {
      const afterSilence = at - lastIn >= SILENCE_MS;
      meter.more(data.length);
      for (let frame = meter.next(); frame; frame = meter.next()) {
        const since = beforeLine;
        beforeLine = lastIn; // the next line of this chunk may have begun any time since the chunk before
        const message = frame.kind === 'line' ? parseMessage(frame.body) : undefined;
        if (frame.kind === 'line' && (message?.ok || frame.body.startsWith('REC ')))
          listener.heard({
            at,
            since,
            afterSilence,
            body: frame.body,
            message: message?.ok ? message.value : undefined,
          });
        else listener.dropped();
      }
      if (data[data.length - 1] === 0x0a) beforeLine = at;
      lastIn = at;
    }
    listener.chunkOver(at, data.length);
  }
}
