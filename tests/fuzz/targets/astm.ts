/** E1381 frames, E1394 records, the conversation over them, and what a capture of one decodes to. */
import type { CaptureChunk } from '../../../src/core/capture.ts';
import { instant } from '../../../src/core/instant.ts';
import { astmTalk } from '../../../src/wire/astm/conversation.ts';
import { decodeAstm } from '../../../src/wire/astm/decode.ts';
import { readDelimiters, USUAL_DELIMITERS } from '../../../src/wire/astm/delimiters.ts';
import { encodeFrame } from '../../../src/wire/astm/frame-writer.ts';
import { MAX_TEXT } from '../../../src/wire/astm/link-bytes.ts';
import { createFrameDecoder, type LinkEvent } from '../../../src/wire/astm/link-frames.ts';
import { writeRecord } from '../../../src/wire/astm/records.ts';
import { parseRecord } from '../../support/astm-record.ts';
import { withoutAmounts } from '../../wire/astm/vectors.ts';
import { frameStreams, records, transfers } from '../corpus.ts';
import { driveTalk, PROFILES, T0 } from '../drive-talk.ts';
import { below, rechunk } from '../mutate.ts';
import { repairFrames } from '../repair.ts';
import { bytesOf, promise, type Target, textOf } from '../target.ts';

const LINK = ['\x02', '\x03', '\x17', '\x05', '\x04', '\x06', '\x15', '\r', '\r\x03', '\r\n', '\x022', '\x020'];
const RECORDS = [
  ...['H|\\^&', 'P|1', 'O|1', 'R|1', 'M|1|strip^', 'C|1', 'Q|1|ALL', 'S|1', 'L|1|N', '^^^INR', '{INR}', '&F&', '&X0D&'],
  ...['&XC3BC&', '&X', '&&', '|||', '^^^', '\\', '20260301090000', '20260230', '|Q', '|F', '|X', '|<', '>8.0'],
];

const same = (a: unknown, b: unknown): boolean => JSON.stringify(a) === JSON.stringify(b);

/** All events of bytes that come in these chunks. Throws where the decoder holds more than a frame. */
function events(chunks: readonly Uint8Array[]): LinkEvent[] {
  const decoder = createFrameDecoder();
  const told: LinkEvent[] = [];
  for (const chunk of chunks) {
    for (const event of decoder.push(chunk)) told.push(event);
    promise(decoder.state.text.length <= MAX_TEXT + 1, 'never more than one frame is held');
  }
  return [...told, ...decoder.quiet()];
}

const link: Target = {
  name: 'e1381',
  corpus: [...frameStreams, ...transfers.filter((text) => text.length < 1500)],
  words: [...LINK, ...RECORDS],
  repair: repairFrames,
  check(bytes, chance) {
    const whole = events([bytes]);
    promise(same(withoutAmounts(whole), withoutAmounts(events(rechunk(bytes, chance)))), 'chunk borders mean nothing');
    for (const event of whole) {
      if (event.kind !== 'frame') continue;
      promise(event.text.length <= MAX_TEXT && event.number >= 0 && event.number <= 7, 'a frame has its limits');
      const again = events([encodeFrame(event.number, bytesOf(event.text), event.last)]);
      promise(same(again, [event]), 'a frame that was decoded decodes again');
    }
  },
};

const record: Target = {
  name: 'e1394',
  corpus: records,
  words: RECORDS,
  check(bytes) {
    const text = textOf(bytes);
    const declared = readDelimiters(text);
    const d = declared.ok ? declared.value : USUAL_DELIMITERS;
    // Any text at all can be said in a field, and comes back as it was.
    const said = parseRecord(writeRecord({ type: 'C', fields: ['C', text, 'end'] }, d), d);
    promise(said.ok && said.value.fields[1] === text, 'a text survives being written into a field');
    const read = parseRecord(text, d);
    if (!read.ok) return promise(read.problem !== '', 'a refusal has its reason');
    let written: string;
    try {
      written = writeRecord(read.value, d);
    } catch {
      return promise(read.value.type === 'M', 'only what an M record cannot say is refused');
    }
    const again = parseRecord(written, d);
    promise(again.ok, 'a record that was read can be written and read');
    promise(same(again.value, read.value), 'every field survives being written and read');
  },
};

/** Behind a line end or a control: where a sender makes a pause. */
// biome-ignore lint/suspicious/noControlCharactersInRegex: control characters are what frames are made of
const PIECE = /(?<=[\n\u0004-\u0006])/;

/** The bytes of a meter as chunks, with our answers after each frame. */
function chunksOf(text: string): CaptureChunk[] {
  return text
    .split(PIECE)
    .flatMap((part, i): CaptureChunk[] => [
      { at: instant(T0 + i * 60), dir: 'in', data: bytesOf(part) },
      ...(part.endsWith('\x04')
        ? []
        : [{ at: instant(T0 + i * 60 + 20), dir: 'out' as const, data: Uint8Array.of(6) }]),
    ]);
}

const capture: Target = {
  name: 'astm-capture',
  corpus: transfers,
  words: [...LINK, ...RECORDS],
  repair: repairFrames,
  check(bytes, chance) {
    const profile = [PROFILES.newest, PROFILES.oldest, PROFILES.query][below(chance, 3)] ?? PROFILES.newest;
    const chunks = chunksOf(textOf(bytes));
    const head = { port: 'COM3', profile: profile.name, zone: 'Europe/Lisbon', openedAt: T0 };
    const downloads = decodeAstm({ ...head, chunks }, profile);
    for (const d of downloads) {
      const tests = d.image.filter((item) => item.kind === 'test').length;
      promise(!d.complete || (d.cut === undefined && tests === d.image.length), 'a complete image has no hole');
      promise(d.until >= d.at && d.stats.damagedLines >= 0, 'times and counts are those of the capture');
    }
    if (below(chance, 4) > 0) return;
    const finer = chunks.flatMap((c) =>
      c.dir === 'out' ? [c] : rechunk(c.data, chance).map((data) => ({ ...c, data })),
    );
    const again = decodeAstm({ ...head, chunks: finer }, profile);
    const told = (list: typeof downloads): unknown => list.map((d) => [d.meter, d.complete, d.image]);
    promise(same(told(downloads), told(again)), 'chunk borders mean nothing to the results');
  },
};

const talk: Target = {
  name: 'astm-talk',
  corpus: transfers.filter((text) => text.length < 2500),
  words: [...LINK, ...RECORDS],
  repair: repairFrames,
  check(bytes, chance) {
    const profile = [PROFILES.newest, PROFILES.oldest, PROFILES.query][below(chance, 3)] ?? PROFILES.newest;
    const answers = profile.query ? '\x06\x06\x06\x06' : '';
    const said = `${answers}${textOf(bytes)}`.split(PIECE).flatMap((t) => rechunk(bytesOf(t), chance));
    driveTalk(astmTalk({ profile }), said, chance, (data) => {
      const isControl = data.length === 1 && [4, 5, 6, 0x15].includes(data[0] ?? 0);
      promise(isControl || events([data]).every((e) => e.kind === 'frame'), 'all that is sent is a control or a frame');
    });
  },
};

/** All targets of ASTM. */
export const astmTargets: readonly Target[] = [link, record, capture, talk];
