/** What the fuzzed inputs begin from: the published vectors, and the captures that are replayed. */
import { readdirSync, readFileSync } from 'node:fs';
import { join } from 'node:path';
import type { Capture } from '../../src/core/capture.ts';
import { parseCapture } from '../../src/wire/capture-file.ts';
import { vectors as astm } from '../wire/astm/vectors.ts';
import { vectors as line } from '../wire/line/vectors.ts';
import { textOf } from './target.ts';

/** The scripts run from a compiled copy; the captures stay where they are. */
const REPLAYS = join(process.cwd(), 'tests', 'replay');

/** The texts of all replayed captures of at most `maxBytes`. */
export function replayTexts(maxBytes: number): string[] {
  return readdirSync(REPLAYS, { recursive: true, encoding: 'utf8' })
    .filter((file) => file.endsWith('.capture.jsonl'))
    .sort()
    .map((file) => readFileSync(join(REPLAYS, file), 'utf8'))
    .filter((text) => text.length <= maxBytes);
}

const captures = (maxBytes: number): Capture[] => replayTexts(maxBytes).map((text) => parseCapture(text, 'replay'));
const isAstm = (capture: Capture): boolean => capture.profile.startsWith('astm');
const bytesIn = (capture: Capture): string =>
  capture.chunks.flatMap(({ dir, data }) => (dir === 'in' ? [textOf(data)] : [])).join('');

/** Single lines and streams of TLP/1, good and bad. */
export const lineStreams: readonly string[] = [
  ...[...line.lines, ...line.badLines, ...line.streams, ...line.messages].map((v) => v.bytes),
  ...new Set(captures(30_000).flatMap((c) => (isAstm(c) ? [] : (bytesIn(c).match(/[^\n]*\n/g) ?? []).slice(0, 8)))),
].filter((text) => text.length < 1500);

/** Bodies of TLP/1 lines. */
export const lineBodies: readonly string[] = lineStreams
  .flatMap((text) => text.split(/\r?\n/))
  .map((text) => text.slice(0, Math.max(0, text.lastIndexOf('*'))))
  .filter((text) => text.length > 1 && text.length < 400);

/** Conversations in TLP/1: each line begins with `>` (host) or `<` (meter), as in the published vectors. */
export const lineTalks: readonly string[] = [
  ...line.conversations.map((c) => c.lines.map((text) => `${text}\r\n`).join('')),
  ...captures(4000).flatMap((c) => (isAstm(c) ? [] : [asTalk(c)])),
];

function asTalk(capture: Capture): string {
  let out = '';
  let dir: 'in' | 'out' | undefined;
  for (const chunk of capture.chunks)
    for (const char of textOf(chunk.data)) {
      if (dir !== chunk.dir || out.endsWith('\n')) out += chunk.dir === 'in' ? '< ' : '> ';
      dir = chunk.dir;
      out += char;
    }
  return out;
}

/** Frames of E1381, good and bad. */
export const frameStreams: readonly string[] = astm.frames.map((v) => textOf(v.bytes)).filter((t) => t.length < 1500);

/** Whole transfers of E1394, as the meter's bytes. */
export const transfers: readonly string[] = [
  ...astm.messages.map((v) => textOf(v.bytes)),
  ...captures(6000).flatMap((c) => (isAstm(c) ? [bytesIn(c)] : [])),
].filter((text) => text.length < 6000);

/** The text of a frame that holds one whole record. */
// biome-ignore lint/suspicious/noControlCharactersInRegex: control characters are what frames are made of
const RECORD = /\u0002\d([^\u0003\u0017]*)\r[\u0003\u0017]/g;

/** Records of E1394. */
export const records: readonly string[] = [
  ...new Set(transfers.flatMap((t) => [...t.matchAll(RECORD)].map((m) => m[1] ?? ''))),
];
