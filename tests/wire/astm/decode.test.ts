/** From captures to downloads: completeness, holes, broken transfers, readings that are compared, clocks, other meters. */
import { describe, expect, it } from 'vitest';
import { decodeAstm } from '../../../src/wire/astm/decode.ts';
import { encodeFrames, encodeMessage } from '../../../src/wire/astm/frame-writer.ts';
import { numbersFrom } from '../../support/numbers.ts';
import {
  captureOf,
  END,
  HEADER,
  memoryRecords,
  NEWEST,
  OLDEST,
  only,
  profileNamed,
  START_AT,
  shape,
  testRecords,
  testsOf,
  transfer,
} from './told.ts';
import { vectors } from './vectors.ts';

const SEED = Number(process.env['SEED'] ?? 20260305);
/** Bytes of the one frame of a short record. */
const lengthOf = (record: string): number => Buffer.concat(encodeFrames(record, 1)).length;
const ACK = { out: Uint8Array.of(6) };
const whole = (from: number, to: number): Uint8Array => transfer([HEADER, ...memoryRecords(from, to), END]);
/** A transfer that ends with EOT after some of the records of tests `from` to `to`, without its terminator. */
const broken = (from: number, to: number, without = 0): Uint8Array => {
  const records = [HEADER, ...memoryRecords(from, to)];
  return transfer(records.slice(0, records.length - without));
};

describe('the published message vectors', () => {
  it.each(vectors.messages)('$name', ({ bytes, meter, complete, cut, image, profile }) => {
    const downloads = decodeAstm(captureOf(bytes), profileNamed(profile));
    if (meter === null) {
      expect(downloads).toEqual([]);
      return;
    }
    const download = only(downloads);
    expect(download.meter).toMatchObject(meter);
    expect(download.complete).toBe(complete);
    expect(download.cut).toBe(cut);
    expect(download.held).toBe(complete ? image?.length : undefined);
    expect(download.image.length).toBe(image?.length);
    download.image.forEach((item, i) => {
      const wanted = image?.[i];
      if (wanted === 'hole') expect(item.kind).toBe('hole');
      else expect(item).toMatchObject({ kind: 'test', test: wanted ?? {} });
    });
  });

  it.each(vectors.messages)('$name: the same however the bytes were cut into chunks', ({ bytes, profile }) => {
    const at = decodeAstm(captureOf(bytes), profileNamed(profile)).map(({ image, complete, cut }) => ({
      image,
      complete,
      cut,
    }));
    for (let cut = 1; cut < bytes.length; cut++) {
      const capture = captureOf(bytes.subarray(0, cut), bytes.subarray(cut));
      const again = decodeAstm(capture, profileNamed(profile)).map(({ image, complete, cut }) => ({
        image,
        complete,
        cut,
      }));
      expect(again, `cut at ${cut}`).toEqual(at);
    }
  });
});

describe('a whole transfer', () => {
  it('is complete, oldest test first, whichever way the meter sends', () => {
    const newest = only(decodeAstm(captureOf(whole(1, 3)), NEWEST));
    expect(newest).toMatchObject({ complete: true, held: 3, order: 'newest', fresh: [] });
    expect(shape(newest)).toEqual(['3', '2', '1']);
    const oldest = only(decodeAstm(captureOf(whole(1, 3)), OLDEST));
    expect(oldest).toMatchObject({ complete: true, held: 3, order: 'oldest' });
    expect(shape(oldest)).toEqual(['1', '2', '3']);
  });

  it('is complete without the closing EOT: the terminator record is the proof', () => {
    expect(only(decodeAstm(captureOf(whole(1, 3).slice(0, -1)), NEWEST)).complete).toBe(true);
  });

  it('marks each test as read once', () => {
    const tests = testsOf(only(decodeAstm(captureOf(whole(1, 3)), NEWEST)));
    expect(tests.map(({ flags }) => flags)).toEqual([['single-read'], ['single-read'], ['single-read']]);
  });

  it('anchors the clock from 5 s before its ENQ to the arrival of the header’s frame', () => {
    const bytes = whole(1, 1);
    const headerEnd = 1 + lengthOf(HEADER);
    const capture = captureOf(bytes.subarray(0, 1), ACK, bytes.subarray(1, headerEnd), ACK, bytes.subarray(headerEnd));
    const { clock, at, until, stats } = only(decodeAstm(capture, NEWEST));
    expect(clock).toEqual([
      {
        kind: 'anchor',
        shown: { text: '2026-03-02T10:15:00', wall: Date.UTC(2026, 2, 2, 10, 15), resolutionMs: 1000 },
        from: START_AT - 5000,
        to: START_AT + 200,
      },
    ]);
    expect({ at, until }).toEqual({ at: START_AT, until: START_AT + 400 });
    expect(stats).toEqual({ bytes: bytes.length + 2, damagedLines: 0, retries: 0, durationMs: 400 });
  });

  it('gives no anchor where the header has no time or one that does not exist', () => {
    for (const header of ['H|\\^&|||GM-20^SN00042', HEADER.replace('20260302', '20260231')])
      expect(only(decodeAstm(captureOf(transfer([header, END])), NEWEST)).clock).toEqual([]);
  });

  it('without slots is whole all the same, and its tests are numbered as sent', () => {
    const records = [1, 2, 3].flatMap((slot) => testRecords(slot, { slotText: '' }));
    const download = only(decodeAstm(captureOf(transfer([HEADER, ...records, END])), NEWEST));
    expect(download).toMatchObject({ complete: true, held: 3 });
    expect(testsOf(download).map(({ place, slot }) => [place, slot])).toEqual([
      ['3', undefined],
      ['2', undefined],
      ['1', undefined],
    ]);
  });

  it('with a slot told twice numbers its tests as sent, and keeps both', () => {
    const records = [...testRecords(1), ...testRecords(2), ...testRecords(2, { inr: '4.4' })];
    const tests = testsOf(only(decodeAstm(captureOf(transfer([HEADER, ...records, END])), NEWEST)));
    expect(tests.map(({ place }) => place)).toEqual(['3', '2', '1']);
    expect(tests[0]?.values[0]?.value).toBe('4.4');
  });

  it('with an order that has no result yet is not proven', () => {
    const records = [...testRecords(1), 'P|2', 'O|1||2|^^^INR', ...testRecords(3)];
    const download = only(decodeAstm(captureOf(transfer([HEADER, ...records, END])), NEWEST));
    expect(download).toMatchObject({ complete: false, cut: 'damaged' });
    expect(shape(download)).toEqual(['3', '-1', '1']);
  });

  it('with a record that makes no sense is not proven, and the test around it is open', () => {
    const records = [...testRecords(1), ...testRecords(2).toSpliced(3, 0, 'X|1|what'), ...testRecords(3)];
    const download = only(decodeAstm(captureOf(transfer([HEADER, ...records, END])), NEWEST));
    expect(download).toMatchObject({ complete: false, cut: 'damaged' });
    expect(shape(download)).toEqual(['3', '2+', '1']);
  });

  it.each([
    ['T', 'aborted'],
    ['R', 'aborted'],
    ['E', 'aborted'],
    ['Z', 'aborted'],
    ['Q', 'refused'],
    ['I', 'refused'],
  ])('that ends with code %s is %s', (code, cut) => {
    const download = only(decodeAstm(captureOf(transfer([HEADER, ...memoryRecords(1, 2), `L|1|${code}`])), NEWEST));
    expect(download).toMatchObject({ complete: false, cut });
    expect(shape(download)).toEqual(['-', '2', '1']);
  });

  it.each(['', 'N', 'F'])('that ends with code "%s" is complete', (code) => {
    expect(
      only(decodeAstm(captureOf(transfer([HEADER, ...memoryRecords(1, 2), `L|1|${code}`])), NEWEST)).complete,
    ).toBe(true);
  });

  it('that answers a question with "nothing available" tells an empty memory', () => {
    expect(only(decodeAstm(captureOf(transfer([HEADER, 'L|1|I'])), NEWEST))).toMatchObject({
      complete: true,
      held: 0,
      image: [],
    });
  });
});

describe('a transfer that is cut at any byte', () => {
  it('never tells a test that was not sent, never a wrong value, and is complete only with its terminator', () => {
    const bytes = whole(1, 4);
    const full = testsOf(only(decodeAstm(captureOf(bytes), NEWEST)));
    const terminator = bytes.length - 1 - lengthOf(END);
    for (let cut = 0; cut < bytes.length; cut++) {
      const downloads = decodeAstm(captureOf(bytes.slice(0, cut)), NEWEST);
      if (downloads.length === 0) {
        expect(cut).toBeLessThan(80);
        continue;
      }
      const download = only(downloads);
      // The last two bytes of the last frame are its line end, which a sum that is right does not need.
      expect(download.complete, `cut at ${cut}`).toBe(cut >= bytes.length - 3);
      if (download.complete) continue;
      expect(download.image[0], `cut at ${cut}`).toEqual({ kind: 'hole' });
      if (cut < terminator) expect(download.cut).toBe('cut-off');
      for (const test of testsOf(download)) {
        const sent = full.find(({ slot }) => slot === test.slot);
        if (!test.open) expect(test, `cut at ${cut}`).toEqual(sent);
        else {
          expect(test.meterTimeText).toBe(sent?.meterTimeText);
          expect(sent?.values.slice(0, test.values.length)).toEqual(test.values);
        }
      }
    }
  });

  it('leaves a hole at the old end where the newest is sent first, at the new end where the oldest is', () => {
    expect(shape(only(decodeAstm(captureOf(broken(1, 3)), NEWEST)))).toEqual(['-', '3+', '2', '1']);
    expect(shape(only(decodeAstm(captureOf(broken(1, 3)), OLDEST)))).toEqual(['1', '2', '3+', '-']);
  });

  it('knows from the capacity how many tests may be missing', () => {
    const profile = { ...NEWEST, memory: { order: 'newest' as const, capacity: 10 } };
    expect(shape(only(decodeAstm(captureOf(broken(1, 3)), profile)))).toEqual(['-7', '3+', '2', '1']);
    const full = { ...NEWEST, memory: { order: 'newest' as const, capacity: 3 } };
    expect(shape(only(decodeAstm(captureOf(broken(1, 3)), full)))).toEqual(['3+', '2', '1']);
  });

  it('gives an order that has no result yet to nobody', () => {
    expect(shape(only(decodeAstm(captureOf(broken(1, 3, 3)), NEWEST)))).toEqual(['-', '2', '1']);
  });

  it('tells only that tests may be missing where no test came whole', () => {
    expect(only(decodeAstm(captureOf(transfer([HEADER])), NEWEST))).toMatchObject({
      complete: false,
      cut: 'cut-off',
      image: [{ kind: 'hole' }],
    });
  });

  it('does not use the half of a record', () => {
    const records = [
      HEADER,
      ...testRecords(1),
      'P|2',
      'O|1||2|^^^INR',
      `R|1|^^^INR|2.6|{INR}||||F|||${' '.repeat(300)}`,
    ];
    const frames = encodeMessage(records);
    const bytes = new Uint8Array(Buffer.concat([Buffer.of(5), ...frames.slice(0, -1)]));
    expect(shape(only(decodeAstm(captureOf(bytes), NEWEST)))).toEqual(['-', '1']);
  });
});

describe('after a break', () => {
  it('a whole resend is the memory, and what was told twice counts as read twice', () => {
    const download = only(decodeAstm(captureOf(broken(1, 2), whole(1, 4)), NEWEST));
    expect(download).toMatchObject({ complete: true, held: 4 });
    expect(testsOf(download).map(({ slot, flags }) => [slot, flags])).toEqual([
      [4, ['single-read']],
      [3, ['single-read']],
      [2, ['single-read']],
      [1, []],
    ]);
  });

  it('a continuation behind what was saved makes the memory whole', () => {
    for (let from = 2; from <= 4; from++) {
      const download = only(decodeAstm(captureOf(broken(1, 3), whole(from, 5)), NEWEST));
      expect(download, `from ${from}`).toMatchObject({ complete: true, held: 5 });
      expect(shape(download)).toEqual(['5', '4', '3', '2', '1']);
    }
  });

  it('a continuation in the middle of a test mends it', () => {
    const [, order, , second, strip] = testRecords(2) as [string, string, string, string, string];
    const rest = transfer([HEADER, 'P|2|PA-2', order, second, strip, ...memoryRecords(3, 3), END]);
    const download = only(decodeAstm(captureOf(broken(1, 2, 2), rest), NEWEST));
    expect(download).toMatchObject({ complete: true, held: 3 });
    const straight = testsOf(only(decodeAstm(captureOf(whole(1, 3)), NEWEST)));
    expect(testsOf(download)).toEqual(straight);
  });

  it('a continuation that leaves a test out is not whole', () => {
    const download = only(decodeAstm(captureOf(broken(1, 2), whole(4, 5)), NEWEST));
    expect(download).toMatchObject({ complete: false, cut: 'count-differs' });
    expect(shape(download)).toEqual(['5', '4', '-1', '2', '1']);
  });

  it('a continuation of which nothing came before is not whole: newer tests are missing', () => {
    const download = only(decodeAstm(captureOf(whole(3, 5)), NEWEST));
    expect(download).toMatchObject({ complete: false, cut: 'cut-off' });
    expect(shape(download)).toEqual(['5', '4', '3', '-2']);
    expect(shape(only(decodeAstm(captureOf(whole(3, 5)), OLDEST)))).toEqual(['-2', '3', '4', '5']);
  });

  it('a continuation that begins in the middle of a test leaves that test open', () => {
    const [patient, order, , second, strip] = testRecords(2) as [string, string, string, string, string];
    const download = only(decodeAstm(captureOf(transfer([HEADER, patient, order, second, strip, END])), NEWEST));
    expect(shape(download)).toEqual(['2+', '-1']);
    expect(download.complete).toBe(false);
  });

  it('without slots a resend and a continuation are told apart by what they hold', () => {
    const tests = [1, 2, 3, 4].map((slot) => testRecords(slot, { slotText: '' }));
    const first = transfer([HEADER, ...tests.slice(0, 2).flat()]);
    for (const again of [tests, tests.slice(1), tests.slice(2)]) {
      const download = only(decodeAstm(captureOf(first, transfer([HEADER, ...again.flat(), END])), NEWEST));
      expect(download).toMatchObject({ complete: true, held: 4 });
      expect(testsOf(download).map(({ patientId }) => patientId)).toEqual(['PA-4', 'PA-3', 'PA-2', 'PA-1']);
    }
  });

  it('two tellings that break off give everything that came whole', () => {
    const download = only(decodeAstm(captureOf(broken(1, 4), broken(1, 2)), NEWEST));
    expect(shape(download)).toEqual(['-', '4+', '3', '2', '1']);
    const holes = only(decodeAstm(captureOf(whole(4, 6), broken(1, 2)), NEWEST));
    expect(shape(holes)).toEqual(['6', '5', '4', '-', '2+', '1']);
    expect(holes.complete).toBe(false);
  });

  it('a memory told in several messages is all there, but nothing proves its end', () => {
    const one = (slot: number): Uint8Array => transfer([HEADER, ...testRecords(slot), END]);
    const download = only(decodeAstm(captureOf(one(1), one(2), one(3)), NEWEST));
    expect(shape(download)).toEqual(['3', '2', '1']);
    expect(download).toMatchObject({ complete: false, cut: 'count-differs' });
  });

  it('an ENQ in the middle of a transfer, and the message from its beginning, is a new transfer', () => {
    const cut = broken(1, 2).slice(0, -1);
    const download = only(decodeAstm(captureOf(cut, whole(1, 3)), NEWEST));
    expect(download).toMatchObject({ complete: true, held: 3 });
  });

  it('a stray ENQ between two frames is noise', () => {
    const frames = encodeMessage([HEADER, ...memoryRecords(1, 3), END]);
    for (let at = 1; at < frames.length; at++) {
      const parts = [Buffer.of(5), ...frames.slice(0, at), Buffer.of(5), ...frames.slice(at), Buffer.of(4)];
      const download = only(decodeAstm(captureOf(new Uint8Array(Buffer.concat(parts))), NEWEST));
      expect(download, `before frame ${at + 1}`).toMatchObject({ complete: true, held: 3 });
    }
  });
});

describe('a memory that was read twice', () => {
  it('is marked as read once no longer', () => {
    const download = only(decodeAstm(captureOf(whole(1, 3), whole(1, 3)), NEWEST));
    expect(download).toMatchObject({ complete: true, held: 3 });
    expect(testsOf(download).map(({ flags }) => flags)).toEqual([[], [], []]);
    expect(download.clock.length).toBe(2);
  });

  it('shows where the two readings differ', () => {
    const other = transfer([HEADER, ...testRecords(1), ...testRecords(2, { inr: '7.7' }), ...testRecords(3), END]);
    const tests = testsOf(only(decodeAstm(captureOf(whole(1, 3), other), NEWEST)));
    expect(tests.map(({ slot, flags }) => [slot, flags])).toEqual([
      [3, []],
      [2, ['readings-differ']],
      [1, []],
    ]);
    expect(tests[1]?.values[0]?.value).toBe('1.7');
  });

  it('settles on what two of three readings say', () => {
    const other = transfer([HEADER, ...testRecords(1), ...testRecords(2, { inr: '7.7' }), ...testRecords(3), END]);
    for (const order of [
      [other, whole(1, 3), whole(1, 3)],
      [whole(1, 3), other, whole(1, 3)],
    ]) {
      const [, second] = testsOf(only(decodeAstm(captureOf(...order), NEWEST)));
      expect(second).toMatchObject({ slot: 2, flags: [] });
      expect(second?.values[0]?.value).toBe('1.7');
    }
  });

  it('is compared rightly where a test was made in between', () => {
    const later = [1, 2, 3].flatMap((slot) => testRecords(slot, { slotText: String(slot + 1) }));
    const again = transfer([HEADER, ...testRecords(20, { slotText: '1' }), ...later, END]);
    const download = only(decodeAstm(captureOf(whole(1, 3), again), NEWEST));
    expect(download).toMatchObject({ complete: true, held: 3 });
    expect(testsOf(download).map(({ flags }) => flags)).toEqual([[], [], []]);
  });

  it('keeps the flag for what only one of the readings told', () => {
    const download = only(decodeAstm(captureOf(whole(1, 3), broken(1, 2)), NEWEST));
    expect(download.complete).toBe(true);
    expect(testsOf(download).map(({ slot, flags }) => [slot, flags])).toEqual([
      [3, ['single-read']],
      [2, ['single-read']],
      [1, []],
    ]);
  });
});

describe('two meters in one capture', () => {
  const other = HEADER.replace('SN00042', 'SN00077');

  it('are two downloads, each with its own tests and clock', () => {
    const downloads = decodeAstm(captureOf(whole(1, 2), transfer([other, ...memoryRecords(3, 4), END])), NEWEST);
    expect(downloads.map(({ meter }) => meter.id)).toEqual(['SN00042', 'SN00077']);
    expect(downloads.map(shape)).toEqual([
      ['2', '1'],
      ['4', '3', '-2'],
    ]);
    expect(downloads.map(({ clock }) => clock.length)).toEqual([1, 1]);
    expect(downloads.map(({ at }) => at)).toEqual([START_AT, START_AT + 100]);
  });

  it('never lend each other frames, wherever the first one broke off', () => {
    const first = whole(1, 3);
    const second = transfer([other, ...memoryRecords(7, 8), END]);
    for (let cut = 2; cut < first.length; cut++) {
      const downloads = decodeAstm(captureOf(first.slice(0, cut), second), NEWEST);
      const slots = downloads.flatMap((download) => testsOf(download).map(({ slot }) => [download.meter.id, slot]));
      for (const [id, slot] of slots) expect(Number(slot) >= 7, `cut at ${cut}`).toBe(id === 'SN00077');
    }
  });

  it('are told apart by their model as well', () => {
    const model = HEADER.replace('GM-20', 'GM-30');
    expect(decodeAstm(captureOf(whole(1, 1), transfer([model, END])), NEWEST).length).toBe(2);
  });
});

describe('damage', () => {
  it(`never gives a wrong value to a download with one damaged byte (SEED=${SEED})`, () => {
    const next = numbersFrom(SEED);
    const bytes = whole(1, 4);
    const full = new Map(testsOf(only(decodeAstm(captureOf(bytes), NEWEST))).map((test) => [test.slot, test]));
    for (let round = 0; round < 3000; round++) {
      const damaged = bytes.slice();
      const at = Math.floor(next() * bytes.length);
      damaged[at] = Math.floor(next() * 256);
      for (const download of decodeAstm(captureOf(damaged), NEWEST))
        for (const test of testsOf(download)) if (!test.open) expect(test, `byte ${at}`).toEqual(full.get(test.slot));
    }
  });

  it('is counted', () => {
    const frames = encodeMessage([HEADER, ...memoryRecords(1, 1), END]);
    const bad = Buffer.from(frames[2] ?? []);
    bad[8] = 0x58;
    const parts = [Buffer.of(5), ...frames.slice(0, 2), bad, ...frames.slice(2), Buffer.of(4)];
    const download = only(decodeAstm(captureOf(new Uint8Array(Buffer.concat(parts))), NEWEST));
    expect(download).toMatchObject({ complete: true, stats: { damagedLines: 1, retries: 1 } });
  });

  it('of a frame sent under two wrong numbers and then its own costs nothing', () => {
    const records = [HEADER, ...memoryRecords(1, 2), END];
    const frames = encodeMessage(records);
    records.forEach((record, i) => {
      const due = (i + 1) % 8;
      const wrong = [2, 5].flatMap((by) => encodeFrames(record, (due + by) % 8));
      const parts = [Buffer.of(5), ...frames.slice(0, i), ...wrong, ...frames.slice(i), Buffer.of(4)];
      const download = only(decodeAstm(captureOf(new Uint8Array(Buffer.concat(parts))), NEWEST));
      expect(download, record).toMatchObject({ complete: true, held: 2, stats: { retries: 2 } });
    });
  });

  it('is never mended by a sender that goes on without an answer, whose numbers fit again after eight frames', () => {
    const frames = encodeMessage([HEADER, ...memoryRecords(1, 4), END]);
    const parts = [Buffer.of(5), ...frames.slice(0, 3), ...frames.slice(4), Buffer.of(4)];
    const download = only(decodeAstm(captureOf(new Uint8Array(Buffer.concat(parts))), NEWEST));
    expect(download.complete).toBe(false);
    expect(shape(download)).toEqual(['-']);
  });

  it(`never throws, whatever the bytes are (SEED=${SEED})`, () => {
    const next = numbersFrom(SEED + 1);
    const bytes = whole(1, 3);
    for (let round = 0; round < 500; round++) {
      const parts = Array.from({ length: 6 }, () => {
        const start = Math.floor(next() * bytes.length);
        const part = bytes.slice(start, start + Math.floor(next() * 120));
        return next() < 0.5 ? part : part.map((byte) => (next() < 0.05 ? Math.floor(next() * 256) : byte));
      });
      for (const download of decodeAstm(captureOf(...parts), NEWEST)) {
        const places = testsOf(download).map(({ place }) => place);
        expect(new Set(places).size, `round ${round}`).toBe(places.length);
        if (download.complete) expect(download.image.every(({ kind }) => kind === 'test')).toBe(true);
      }
    }
  });
});
