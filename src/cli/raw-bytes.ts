/**
 * Finds the very bytes from which a reading was made. Works for every protocol in the same way: a capture cut short
 * decodes like one whose cable was pulled, so the shortest beginning that already tells the test ends at its last
 * byte. Pure.
 */
import type { Capture, CaptureChunk } from '../core/capture.ts';
import type { Download } from '../core/download.ts';
import type { Instant } from '../core/instant.ts';
import type { TestRecord } from '../core/reading.ts';

/** A stretch of what a meter sent. */
export interface RawSpan {
  /** Number of bytes that the meter had sent before it. */
  readonly from: number;
  /** Number of bytes that the meter had sent at its end. */
  readonly to: number;
  /** When its last byte had arrived. */
  readonly at: Instant;
  readonly bytes: Uint8Array;
}

/** All bytes from the meter, end to end. */
export const inboundBytes = (capture: Capture): Uint8Array =>
  Buffer.concat(capture.chunks.filter((chunk) => chunk.dir === 'in').map((chunk) => chunk.data));

/**
 * The bytes of the test at `place` of the capture's download number `ordinal`. Absent where the capture does not tell
 * that test (then it is not the one in which it was first seen).
 */
export function rawSpanOf(
  capture: Capture,
  decode: (capture: Capture) => readonly Download[],
  ordinal: number,
  place: string,
): RawSpan | undefined {
  const toldBy = (length: number): TestRecord | undefined => testAt(decode(beginning(capture, length))[ordinal], place);
  const bytes = inboundBytes(capture);
  const whole = toldBy(bytes.length);
  if (!whole) return undefined;
  const wanted = contentOf(whole);
  const told = shortest(bytes.length, (length) => contentOf(toldBy(length)) === wanted);
  const begun = shortest(told, (length) => toldBy(length) !== undefined);
  // A frame is believed at its checksum; its line end belongs to it all the same.
  const to = bytes[told] === CR && bytes[told + 1] === LF ? told + 2 : told;
  const from = startBefore(bytes, begun);
  return { from, to, at: arrivalOf(capture.chunks, to), bytes: bytes.slice(from, to) };
}

function testAt(download: Download | undefined, place: string): TestRecord | undefined {
  if (!download) return undefined;
  const tests = [...download.image.flatMap((item) => (item.kind === 'test' ? [item.test] : [])), ...download.fresh];
  return tests.find((test) => test.place === place);
}

/** What a test says, without the mark that more might still follow. */
function contentOf(test: TestRecord | undefined): string {
  if (!test) return '';
  const { open: _open, ...content } = test;
  return JSON.stringify(content);
}

/** The least length for which `holds`, which must hold for `limit` and, from there down, stop holding once. */
function shortest(limit: number, holds: (length: number) => boolean): number {
  let no = 0;
  let yes = limit;
  while (yes - no > 1) {
    const middle = (no + yes) >> 1;
    if (holds(middle)) yes = middle;
    else no = middle;
  }
  return yes;
}

/** The capture as if the cable had been pulled after so many bytes from the meter. */
function beginning(capture: Capture, length: number): Capture {
  const { closedAt: _closed, ...header } = capture;
  const chunks: CaptureChunk[] = [];
  let left = length;
  for (const chunk of capture.chunks) {
    if (left <= 0) break;
    if (chunk.dir === 'out') chunks.push(chunk);
    else {
      chunks.push(chunk.data.length <= left ? chunk : { ...chunk, data: chunk.data.subarray(0, left) });
      left -= chunk.data.length;
    }
  }
  return { ...header, chunks };
}

const LF = 0x0a;
const CR = 0x0d;
const STX = 0x02;
const O = 0x4f;

/** The start of the line, or of the order record's frame, that ends at or reaches over `end`. */
function startBefore(bytes: Uint8Array, end: number): number {
  const isFramed = bytes.includes(STX);
  for (let i = end - 2; i > 0; i--) {
    if (isFramed) {
      if (bytes[i] === STX && bytes[i + 2] === O) return i;
      if (bytes[i - 1] === CR && bytes[i] === O) return i;
    } else if (bytes[i - 1] === LF) return i;
  }
  return 0;
}

function arrivalOf(chunks: readonly CaptureChunk[], length: number): Instant {
  let left = length;
  for (const chunk of chunks) {
    if (chunk.dir === 'out') continue;
    left -= chunk.data.length;
    if (left <= 0) return chunk.at;
  }
  throw new Error('a span ends inside its capture');
}

const NAMES: Readonly<Record<number, string>> = {
  2: 'STX',
  3: 'ETX',
  4: 'EOT',
  5: 'ENQ',
  6: 'ACK',
  10: 'LF',
  13: 'CR',
  21: 'NAK',
  23: 'ETB',
};

/** Bytes as lines for people: printable ASCII as it is, control characters by name, others in hexadecimal. */
export function showBytes(bytes: Uint8Array): string[] {
  let text = '';
  for (const byte of bytes) {
    if (byte >= 0x20 && byte <= 0x7e) text += String.fromCharCode(byte);
    else text += `<${NAMES[byte] ?? byte.toString(16).toUpperCase().padStart(2, '0')}>`;
    if (byte === LF) text += '\n';
  }
  return text.split('\n').filter((line) => line !== '');
}
