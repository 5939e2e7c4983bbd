/**
 * Capture files (`*.capture.jsonl`), both ways: text in, a checked `Capture` out, and back. JSON Lines: a header, one
 * line for each chunk of bytes, and a closing line. A broken line stops the reading of its file with a fault that
 * names file and line. Described in protocols/capture/. Reads and writes no files itself.
 */
import { z } from 'zod';
import type { Capture, CaptureChunk } from '../core/capture.ts';
import { Fault } from '../core/fault.ts';
import { formatInstant, type Instant, parseInstant } from '../core/instant.ts';
import { zoneOf } from '../core/zone.ts';

const Time = z.string().transform((text, check): Instant => {
  const at = parseInstant(text);
  if (at.ok) return at.value;
  check.addIssue({ code: 'custom', message: at.problem });
  return z.NEVER;
});

const Base64 = z.string().transform((text, check): Uint8Array => {
  const bytes = Buffer.from(text, 'base64');
  // Node's reader skips what is no base64: only text that comes back unchanged was whole.
  if (bytes.toString('base64') === text) return bytes;
  check.addIssue({ code: 'custom', message: 'is not base64' });
  return z.NEVER;
});

const ZoneName = z.string().transform((name, check): string => {
  try {
    return zoneOf(name).name;
  } catch (thrown) {
    if (!(thrown instanceof Fault)) throw thrown;
    check.addIssue({ code: 'custom', message: thrown.message });
    return z.NEVER;
  }
});

const ClockStep = z
  .number()
  .refine((seconds) => seconds !== 0, 'must not be 0')
  .optional();

// Keys that a later version adds are ignored: the contract changes only by adding.
const Header = z.object({
  capture: z.literal(1, 'must be 1'),
  port: z.string().min(1),
  profile: z.string().min(1),
  zone: ZoneName,
  openedAt: Time,
  clockStepS: ClockStep,
});
const Chunk = z.object({ at: Time, dir: z.enum(['in', 'out'], 'must be "in" or "out"'), data: Base64 });
const Closing = z.object({ closedAt: Time, clockStepS: ClockStep });

/**
 * The capture in a file's text. Throws CAPTURE_BROKEN, naming file and line, where a line is not what it must be,
 * also where the last one was cut off. Times may go backwards: they are data, and a PC's clock can be put right.
 */
export function parseCapture(text: string, fileName: string): Capture {
  const lines = text.split('\n');
  if (lines.at(-1) === '') lines.pop();
  const broken = (index: number, problem: string, cause?: unknown): Fault =>
    new Fault(
      'CAPTURE_BROKEN',
      // Names of fields and zones may hold anything, line ends as well.
      `${fileName}, line ${index + 1}: ${problem.replace(/\s+/g, ' ')}`,
      'Correct or remove this line, or take the file as it was written.',
      { cause },
    );
  const read = <T>(index: number, schema: z.ZodType<T>, json: unknown): T => {
    const result = schema.safeParse(json);
    if (result.success) return result.data;
    const [issue] = result.error.issues;
    const place = issue?.path.join('.') ?? '';
    throw broken(index, `${place === '' ? 'the line' : `"${place}"`}: ${issue?.message ?? 'is wrong'}`);
  };
  const jsonAt = (index: number): unknown => {
    try {
      return JSON.parse(lines[index] ?? '');
    } catch (cause) {
      throw broken(index, 'is not JSON', cause);
    }
  };

  const header = read(0, Header, jsonAt(0));
  const chunks: CaptureChunk[] = [];
  let closing: z.infer<typeof Closing> | undefined;
  for (let i = 1; i < lines.length; i++) {
    const json = jsonAt(i);
    if (closing !== undefined) throw broken(i, 'nothing may follow the closing line');
    if (typeof json === 'object' && json !== null && 'closedAt' in json) closing = read(i, Closing, json);
    else chunks.push(read(i, Chunk, json));
  }
  const { port, profile, zone, openedAt } = header;
  // Who writes while recording knows it only at the end.
  const clockStepS = closing?.clockStepS ?? header.clockStepS;
  return {
    port,
    profile,
    zone,
    openedAt,
    ...(clockStepS === undefined ? {} : { clockStepS }),
    chunks,
    ...(closing === undefined ? {} : { closedAt: closing.closedAt }),
  };
}

/** What the first line of a capture file says. */
export type CaptureHeader = Omit<Capture, 'chunks' | 'closedAt'>;

/** The first line, with its line end. */
const formatHeader = (header: CaptureHeader): string =>
  `${JSON.stringify({
    capture: 1,
    port: header.port,
    profile: header.profile,
    zone: header.zone,
    openedAt: formatInstant(header.openedAt),
    ...(header.clockStepS === undefined ? {} : { clockStepS: header.clockStepS }),
  })}\n`;

/** The line of one chunk, with its line end. */
const formatChunk = (chunk: CaptureChunk): string =>
  `${JSON.stringify({
    at: formatInstant(chunk.at),
    dir: chunk.dir,
    data: Buffer.from(chunk.data.buffer, chunk.data.byteOffset, chunk.data.byteLength).toString('base64'),
  })}\n`;

/** The last line, with its line end. */
const formatClosing = (closedAt: Instant): string => `${JSON.stringify({ closedAt: formatInstant(closedAt) })}\n`;

/** A whole capture file. */
export const formatCapture = (capture: Capture): string =>
  formatHeader(capture) +
  capture.chunks.map(formatChunk).join('') +
  (capture.closedAt === undefined ? '' : formatClosing(capture.closedAt));
