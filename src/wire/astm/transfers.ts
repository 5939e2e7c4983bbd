/**
 * From the chunks of a capture to transfers: what stood between an ENQ and its EOT, as whole record texts. Takes the
 * bytes that came from the meter and judges them as E1381 says, so that a capture made by any receiver is read alike;
 * bytes to the meter tell only that the meter had finished speaking.
 */
import type { CaptureChunk } from '../../core/capture.ts';
import { type Instant, instant } from '../../core/instant.ts';
import { streamOf } from '../stream-of.ts';
import { decodeCharacters, isAscii } from './escapes.ts';
import { FrameMachine, type LinkEvent, NO_FRAME } from './link-frames.ts';
import { judgeNumber, type ReceiverState } from './receiver.ts';

/** The characters of one record, without its CR. `at`: when its last frame had arrived. */
export interface RecordText {
  readonly text: string;
  readonly at: Instant;
}

/** What one opening of the line brought. Frames of one transfer never belong to a meter named in another. */
export interface Transfer {
  /** When the ENQ came that opened it; where it was not answered and repeated, the first. */
  readonly enqAt: Instant;
  readonly records: readonly RecordText[];
  /** Index of the chunk with that ENQ. */
  readonly firstChunk: number;
  /** Frames whose form or sum was wrong. */
  readonly damaged: number;
  /** Frames that E1381 refuses: the damaged ones, and those out of turn. */
  readonly refused: number;
}

/** A silence after which a meter is not in the middle of a frame: far longer than a pause between two bytes. */
const QUIET_MS = 2000;
/** ENQs that follow each other within this time, with nothing between, are one attempt to open the line (busy: 10 s, answer: 15 s). */
const SAME_ATTEMPT_MS = 30_000;

/**
 * The records in the characters of one or several frames. One frame ends one record; a sender that puts several into one
 * frame is understood as well.
 */
export function splitRecords(text: string): readonly string[] {
  const isOne = text.indexOf('\r') === text.length - 1;
  return isOne ? (text.length > 1 ? [text.slice(0, -1)] : []) : text.split('\r').filter((record) => record !== '');
}

type Open = { -readonly [K in keyof Transfer]: Transfer[K] } & {
  records: RecordText[];
  link: ReceiverState;
  rest: string;
  /** A sound frame that was out of turn, since the last one that was not. */
  stray: { readonly number: number; readonly text: string } | undefined;
  /** True once the sender went on without us: what follows may fit by chance, after eight frames. */
  isLost: boolean;
};

/** True where so long a time lies before a chunk that a meter was not in the middle of a frame. */
const isSilence = (before: Instant | undefined, chunk: CaptureChunk | undefined): boolean =>
  before !== undefined && chunk !== undefined && chunk.at - before > QUIET_MS;

/** The transfers in a capture's chunks, in their order. */
export function readTransfers(chunks: readonly CaptureChunk[]): Transfer[] {
  const { bytes, text: allText } = streamOf(chunks, 'in');
  const needsDecoding = !isAscii(allText);
  const done: Open[] = [];
  let current: Open | undefined;
  /** An ENQ in the middle of a transfer: noise, unless a first frame with a header follows. */
  let anew: { enqAt: Instant; chunk: number } | undefined;
  let heardAt = instant(Number.NEGATIVE_INFINITY);
  let heardChunk = 0;

  const open = (enqAt: Instant, chunk: number): Open => ({
    enqAt,
    firstChunk: chunk,
    records: [],
    damaged: 0,
    refused: 0,
    link: { phase: 'receiving', due: 1 },
    rest: '',
    stray: undefined,
    isLost: false,
  });
  const enquiry = (): void => {
    if (current === undefined) current = open(heardAt, heardChunk);
    else if (current.link.last !== undefined) anew = { enqAt: heardAt, chunk: heardChunk };
    else if (heardAt - current.enqAt > SAME_ATTEMPT_MS) current = open(heardAt, heardChunk);
  };
  const close = (): void => {
    if (current?.link.last !== undefined) done.push(current);
    current = undefined;
    anew = undefined;
  };
  const frame = (transfer: Open, number: number, text: string, isLast: boolean): void => {
    const verdict = transfer.isLost ? 'wrong' : judgeNumber(transfer.link, number);
    if (verdict === 'wrong') {
      transfer.refused++;
      // A sender repeats the frame that was refused, if need be under the number that is due. Another text under another
      // number means that it did not wait for an answer.
      const { stray } = transfer;
      transfer.isLost ||= stray !== undefined && stray.number !== number && stray.text !== text;
      transfer.stray = { number, text };
    }
    if (verdict !== 'new') return;
    transfer.stray = undefined;
    transfer.link = { phase: 'receiving', due: (number + 1) % 8, last: number };
    const whole = transfer.rest + text;
    transfer.rest = isLast ? '' : whole;
    if (!isLast) return;
    const characters = needsDecoding ? decodeCharacters(whole) : whole;
    for (const record of splitRecords(characters)) transfer.records.push({ text: record, at: heardAt });
  };
  const take = (event: LinkEvent): void => {
    if (event.kind === 'control') {
      if (event.code === 'ENQ') enquiry();
      else if (event.code === 'EOT') close();
    } else if (current && event.kind === 'bad-frame') {
      current.damaged++;
      current.refused++;
    } else if (current && event.kind === 'frame') {
      if (anew && event.number === 1 && event.text.startsWith('H')) {
        const { enqAt, chunk } = anew;
        close();
        current = open(enqAt, chunk);
      }
      anew = undefined;
      frame(current, event.number, event.text, event.last);
    }
  };

  /** The next chunk to be heard, and where in all bytes the one before it ends. */
  let nextChunk = 0;
  let heardEnd = 0;
  const hearChunk = (): void => {
    const chunk = chunks[nextChunk];
    if (!chunk) return;
    heardAt = chunk.at;
    heardChunk = nextChunk++;
    heardEnd += chunk.data.length;
  };
  const machine = new FrameMachine(NO_FRAME, (event, end) => {
    while (heardEnd < end) hearChunk(); // an event has the time of the chunk that completed it
    take(event);
  });
  while (nextChunk < chunks.length) {
    const isOut = chunks[nextChunk]?.dir === 'out';
    if (isOut || isSilence(heardAt, chunks[nextChunk])) machine.quiet();
    if (isOut) {
      nextChunk++;
      continue;
    }
    // Chunks that follow each other at once are taken together: where they are cut means nothing.
    const start = heardEnd;
    let end = start;
    let i = nextChunk;
    do end += chunks[i]?.data.length ?? 0;
    while (chunks[++i]?.dir === 'in' && !isSilence(chunks[i - 1]?.at, chunks[i]));
    machine.push(bytes, allText, start, end);
    while (nextChunk < i) hearChunk();
  }
  machine.quiet();
  close();
  return done;
}
