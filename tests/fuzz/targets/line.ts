/** TLP/1: the decoder, the bodies of lines, the conversation, and what a capture of one decodes to. */
import type { Capture, CaptureChunk } from '../../../src/core/capture.ts';
import { instant } from '../../../src/core/instant.ts';
import { zoneOf } from '../../../src/core/zone.ts';
import { encodeBody, frameBody, MAX_BODY, MAX_LINE, parseBody } from '../../../src/wire/line/codec.ts';
import { lineTalk } from '../../../src/wire/line/conversation.ts';
import { decodeLine } from '../../../src/wire/line/decode.ts';
import {
  createLineDecoder,
  decodeChunk,
  endOfStream,
  type LineFrame,
  NO_TAIL,
} from '../../../src/wire/line/decoder.ts';
import { parseMessage } from '../../../src/wire/line/messages.ts';
import { lineBodies, lineStreams, lineTalks } from '../corpus.ts';
import { driveTalk, PROFILES, T0 } from '../drive-talk.ts';
import { below, type Chance, rechunk } from '../mutate.ts';
import { repairLines } from '../repair.ts';
import { bytesOf, promise, type Target, textOf } from '../target.ts';

const WORDS = [
  ...['METER v=1', 'REC i=1', 'NEW', 'END n=0 x=FFFF', 'CLOCK t=-', 'ERR e=busy', 'BYE', 'READ', 'SET t=', 'HELLO v=1'],
  ...[' i=', ' n=', ' t=', ' k=e', ' e=E4', ' a2=PT v2=1 u2=s', ' a5=X v5=1 u5=s', ' f=lo,hi', ' exp=2026-13', ' pid='],
  ...['order=ring', ' next=', ' cap=0', ' held=', 'v=>', 'v=<', '%C3%BC', '%c3', '%00', '*', '\r\n', '\n< ', '\n> '],
];

const same = (a: unknown, b: unknown): boolean => JSON.stringify(a) === JSON.stringify(b);

function decodeWhole(bytes: Uint8Array): LineFrame[] {
  const decoder = createLineDecoder();
  return [...decoder.push(bytes), ...decoder.end()];
}

const decoder: Target = {
  name: 'tlp-decoder',
  corpus: lineStreams,
  words: WORDS,
  repair: repairLines(0),
  check(bytes, chance) {
    const whole = decodeWhole(bytes);
    let tail = NO_TAIL;
    const pieces: LineFrame[] = [];
    for (const chunk of rechunk(bytes, chance)) {
      const next = decodeChunk(tail, chunk);
      tail = next.tail;
      for (const frame of next.frames) pieces.push(frame);
      promise(tail.bytes.length < MAX_LINE, 'never more than one line is held');
    }
    pieces.push(...endOfStream(tail));
    promise(same(whole, pieces), 'chunk borders mean nothing');
    for (const frame of whole) {
      if (frame.kind !== 'line') continue;
      promise(frame.body.length >= 1 && frame.body.length <= MAX_BODY, 'a body has 1 to 230 bytes');
      promise(same(decodeWhole(frameBody(frame.body)), [frame]), 'a line that was decoded decodes again');
    }
  },
};

const codec: Target = {
  name: 'tlp-codec',
  corpus: lineBodies,
  words: WORDS,
  check(bytes) {
    const text = textOf(bytes);
    const body = parseBody(text);
    const message = parseMessage(text);
    promise(body.ok || !message.ok, 'what is no body is no message');
    if (!body.ok) return promise(body.problem !== '', 'a refusal has its reason');
    promise(body.value.fields.size === text.split('=').length - 1, 'every key has its own value');
    let again: string;
    try {
      again = encodeBody(body.value.verb, Object.fromEntries(body.value.fields));
    } catch {
      // Lower-case and needless escapes grow when they are written properly; only then may it be too long.
      return promise(text.includes('%'), 'a body that was read can be written');
    }
    const reread = parseBody(again);
    promise(reread.ok && reread.value.verb === body.value.verb, 'the verb survives');
    for (const [key, value] of body.value.fields)
      promise(reread.value.fields.get(key) === value, 'every value survives being written and read');
    if (!message.ok || (message.value.kind !== 'rec' && message.value.kind !== 'new')) return;
    const { test } = message.value;
    promise(test.values.length <= 4, 'a test has at most four values');
    for (const value of test.values) promise(value.value.length <= MAX_BODY, 'a value is no longer than its line');
    if (message.value.kind === 'rec')
      promise(Number.isSafeInteger(message.value.slot) && message.value.slot > 0, 'a slot is a number from 1');
  },
};

/** Lines with `>` and `<` in front, as chunks; a line with neither in front is the meter's, and has no line end. */
function chunksOf(text: string): CaptureChunk[] {
  return text.split('\n').map((line, i): CaptureChunk => {
    const isMarked = line.startsWith('> ') || line.startsWith('< ');
    return {
      at: instant(T0 + i * 50),
      dir: line.startsWith('> ') ? 'out' : 'in',
      data: bytesOf(isMarked ? `${line.slice(2)}\n` : line),
    };
  });
}

function captureOf(chunks: readonly CaptureChunk[]): Capture {
  return { port: 'COM3', profile: 'tlp-generic', zone: 'Europe/Lisbon', openedAt: T0, chunks };
}

const capture: Target = {
  name: 'tlp-capture',
  corpus: lineTalks,
  words: WORDS,
  repair: repairLines(2),
  check(bytes, chance) {
    const chunks = chunksOf(textOf(bytes));
    const downloads = decodeLine(captureOf(chunks), PROFILES.line);
    for (const d of downloads) {
      const tests = d.image.filter((item) => item.kind === 'test').length;
      promise(!d.complete || (d.cut === undefined && tests === d.image.length), 'a complete image has no hole');
      promise(!d.complete || d.held === undefined || tests >= d.held, 'a complete image is not short');
      promise(d.until >= d.at && d.stats.bytes <= total(chunks), 'times and bytes are those of the capture');
    }
    if (below(chance, 4) > 0) return;
    const finer = chunks.flatMap((c) => rechunk(c.data, chance).map((data) => ({ ...c, data })));
    const again = decodeLine(captureOf(finer), PROFILES.line);
    const told = (list: typeof downloads): unknown => list.map((d) => [d.meter, d.complete, d.image, d.fresh]);
    promise(same(told(downloads), told(again)), 'chunk borders mean nothing to the results');
  },
};

const total = (chunks: readonly CaptureChunk[]): number => chunks.reduce((sum, c) => sum + c.data.length, 0);

const ZONE = zoneOf('Europe/Lisbon');

const talk: Target = {
  name: 'tlp-talk',
  corpus: lineTalks.map((text) => text.replace(/^> [^\n]*\n/gm, '')),
  words: WORDS,
  repair: repairLines(2),
  check(bytes, chance: Chance) {
    const said = chunksOf(textOf(bytes)).flatMap(({ data }) => rechunk(data, chance));
    const staysDocked = chance() < 0.3;
    const conversation = lineTalk({ zone: ZONE, setClock: 'always', clockSettable: true, staysDocked });
    driveTalk(conversation, said, chance, (data, wasSecured) => {
      const frames = decodeWhole(data);
      const [frame] = frames;
      promise(frames.length === 1 && frame?.kind === 'line', 'all that is sent is a sound line');
      promise(wasSecured || !frame.body.startsWith('SET '), 'the clock is never set before all is stored');
    });
  },
};

/** All targets of TLP/1. */
export const lineTargets: readonly Target[] = [decoder, codec, capture, talk];
