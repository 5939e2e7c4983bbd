/**
 * A capture's chunks as a list of what was asked and what was heard, each with its time. Both directions are cut into
 * lines the same way; a host's lines are read by the same grammar as a meter's.
 */
import type { Capture } from '../../core/capture.ts';
import type { Instant } from '../../core/instant.ts';
import { type Body, parseBody } from './codec.ts';
import { createLineDecoder, type LineFrame } from './decoder.ts';
import { type MeterMessage, parseMessage } from './messages.ts';

/** A silence of this length in the middle of an answer makes what follows doubtful. */
const SILENCE_MS = 2000;

export type LineEvent =
  /** The host sent a line; `at` is when its sending began. */
  | { readonly kind: 'asked'; readonly at: Instant; readonly verb: string; readonly fields: Body['fields'] }
  /**
   * A good line of the meter was complete at `at`. `since`: when the last bytes before its own had arrived, or the
   * port was opened. `message` is absent where a REC line cannot be used.
   */
  | {
      readonly kind: 'heard';
      readonly at: Instant;
      readonly since: Instant;
      readonly afterSilence: boolean;
      readonly body: string;
      readonly message?: MeterMessage;
    }
  /** Something that was no good line ended at `at`. */
  | { readonly kind: 'dropped'; readonly at: Instant };

/** What happened in one chunk: its size and its events. */
export interface TimedChunk {
  readonly at: Instant;
  readonly bytes: number;
  readonly events: readonly LineEvent[];
}

/** The events of a capture, chunk by chunk. */
export function timelineOf(capture: Capture): TimedChunk[] {
  const meter = createLineDecoder();
  const host = createLineDecoder();
  let lastIn = capture.openedAt;
  /** When the last bytes before the line that is now arriving had come. */
  let beforeLine = capture.openedAt;
  return capture.chunks.map(({ at, dir, data }) => {
    if (dir === 'out')
      return { at, bytes: data.length, events: host.push(data).flatMap((frame) => askedOf(frame, at)) };
    const afterSilence = at - lastIn >= SILENCE_MS;
    const events = meter.push(data).map((frame): LineEvent => {
      const event = heardOf(frame, at, beforeLine, afterSilence);
      beforeLine = lastIn; // the next line of this chunk may have begun any time since the chunk before
      return event;
    });
    if (data.at(-1) === 0x0a) beforeLine = at;
    lastIn = at;
    return { at, bytes: data.length, events };
  });
}

function askedOf(frame: LineFrame, at: Instant): LineEvent[] {
  const body = frame.kind === 'line' ? parseBody(frame.body) : undefined;
  return body?.ok ? [{ kind: 'asked', at, ...body.value }] : [];
}

function heardOf(frame: LineFrame, at: Instant, since: Instant, afterSilence: boolean): LineEvent {
  if (frame.kind === 'discarded') return { kind: 'dropped', at };
  const message = parseMessage(frame.body);
  const heard = { kind: 'heard', at, since, afterSilence, body: frame.body } as const;
  if (message.ok) return { ...heard, message: message.value };
  return frame.body.startsWith('REC ') ? heard : { kind: 'dropped', at };
}
