import { describe, expect, it } from 'vitest';
import { encodeFrame, encodeFrames, encodeMessage } from '../../../src/wire/astm/frame-writer.ts';
import { MAX_TEXT } from '../../../src/wire/astm/link-bytes.ts';
import { createFrameDecoder, type LinkEvent, NO_FRAME } from '../../../src/wire/astm/link-frames.ts';
import { numbersFrom } from '../../support/numbers.ts';
import { vectors, withoutAmounts } from './vectors.ts';

const SEED = Number(process.env['SEED'] ?? 20260302);
const bytesOf = (text: string): Uint8Array => new Uint8Array(Buffer.from(text, 'latin1'));
const frameText = (text: string): string => Buffer.from(encodeFrame(1, bytesOf(text), true)).toString('latin1');

function decode(...chunks: Uint8Array[]): LinkEvent[] {
  const decoder = createFrameDecoder();
  return [...chunks.flatMap((chunk) => decoder.push(chunk)), ...decoder.quiet()];
}

describe('the published frame vectors', () => {
  it.each(vectors.frames)('$name', ({ bytes, events }) => {
    expect(withoutAmounts(decode(bytes))).toEqual(events);
  });

  it.each(vectors.frames)('$name: the same wherever the stream is cut', ({ bytes, events }) => {
    for (let cut = 0; cut <= bytes.length; cut++)
      expect(withoutAmounts(decode(bytes.subarray(0, cut), bytes.subarray(cut))), `cut at ${cut}`).toEqual(events);
  });

  it.each(vectors.frames)('$name: the same byte by byte, and from a kept state', ({ bytes, events }) => {
    let state = NO_FRAME;
    const seen: LinkEvent[] = [];
    for (const byte of bytes) {
      const decoder = createFrameDecoder(state);
      seen.push(...decoder.push(Uint8Array.of(byte)));
      ({ state } = decoder);
    }
    seen.push(...createFrameDecoder(state).quiet());
    expect(withoutAmounts(seen)).toEqual(events);
  });
});

describe('a frame decoder', () => {
  it('takes texts of 64,000 bytes and refuses longer ones', () => {
    const longest = 'x'.repeat(MAX_TEXT - 1);
    expect(decode(bytesOf(frameText(`${longest}\r`)))).toEqual([
      { kind: 'frame', number: 1, text: `${longest}\r`, last: true },
    ]);
    const tooLong = frameText(longest).replace(longest, `${longest}xx`);
    expect(decode(bytesOf(tooLong))).toEqual([{ kind: 'bad-frame', reason: 'too-long' }]);
    expect(decode(bytesOf(tooLong.slice(0, 99)), bytesOf(tooLong.slice(99)))).toEqual([
      { kind: 'bad-frame', reason: 'too-long' },
    ]);
  });

  it('keeps no text of a frame that never ends', () => {
    const decoder = createFrameDecoder();
    decoder.push(bytesOf('\x021'));
    for (let i = 0; i < 100; i++) decoder.push(bytesOf('x'.repeat(10_000)));
    expect(decoder.state.text).toBe('');
    expect(decoder.push(bytesOf(`\r\n${frameText('P|1\r')}`))).toEqual([
      { kind: 'bad-frame', reason: 'too-long' },
      { kind: 'frame', number: 1, text: 'P|1\r', last: true },
    ]);
  });

  it('accepts a frame without CR LF once the line is quiet, and says that it waits for that', () => {
    const decoder = createFrameDecoder();
    expect(decoder.push(bytesOf(frameText('P|1\r').slice(0, -2)))).toEqual([]);
    expect(decoder.awaitsQuiet).toBe(true);
    expect(decoder.quiet()).toEqual([{ kind: 'frame', number: 1, text: 'P|1\r', last: true }]);
    expect(decoder.awaitsQuiet).toBe(false);
    expect(decoder.push(bytesOf('\r\n'))).toEqual([]);
  });

  it('takes an ENQ in the place of a frame’s rest for an enquiry once the line is quiet', () => {
    const decoder = createFrameDecoder();
    expect(decoder.push(bytesOf('\x021P|1|ab\x05'))).toEqual([]);
    expect(withoutAmounts(decoder.quiet())).toEqual([{ kind: 'noise' }, { kind: 'control', code: 'ENQ' }]);
  });

  it('is not moved by a quiet line in the middle of a frame', () => {
    const bytes = bytesOf(frameText('P|1|abc\r'));
    for (let cut = 1; cut < bytes.length - 2; cut++) {
      const decoder = createFrameDecoder();
      const events = [
        ...decoder.push(bytes.subarray(0, cut)),
        ...decoder.quiet(),
        ...decoder.push(bytes.subarray(cut)),
      ];
      expect(events, `cut at ${cut}`).toEqual([{ kind: 'frame', number: 1, text: 'P|1|abc\r', last: true }]);
    }
  });

  it('does not change the state that it began from', () => {
    const before = createFrameDecoder();
    before.push(bytesOf('\x021P|1'));
    const { state } = before;
    const kept = { ...state };
    createFrameDecoder(state).push(bytesOf('|more\r\x0300\r\n'));
    expect(state).toEqual(kept);
  });

  it('refuses a frame once, whichever one of its bytes is changed, and never takes a wrong text', () => {
    const bytes = bytesOf(frameText('R|1|^^^INR|2.6|{INR}||||F||||20250112160701\r'));
    const again = bytesOf(frameText('L|1|N\r'));
    for (let at = 0; at < bytes.length; at++)
      for (let value = 0; value < 256; value++) {
        if (bytes[at] === value) continue;
        const damaged = bytes.slice();
        damaged[at] = value;
        const events = decode(bytesOf('\x05'), damaged, again).filter(
          ({ kind }) => kind === 'frame' || kind === 'bad-frame',
        );
        const what = `byte ${at} = ${value}`;
        // The closing CR and LF are no part of what the sum protects; all other changes cost the frame.
        const [first, ...more] = events;
        expect(events.at(-1), what).toEqual({ kind: 'frame', number: 1, text: 'L|1|N\r', last: true });
        expect(events.length, what).toBeLessThanOrEqual(2);
        if (first?.kind === 'frame' && more.length > 0)
          expect(first.text, what).toBe(Buffer.from(bytes.subarray(2, -5)).toString('latin1'));
        if (first?.kind === 'frame' && more.length > 0 && at < bytes.length - 2)
          expect(changesCase(bytes[at], value), what).toBe(true);
      }
  });

  it(`never throws on noise, and the next good frame is heard (SEED=${SEED})`, () => {
    const next = numbersFrom(SEED);
    // Noise of a meter's line is not even: the bytes that mean something come often.
    const telling = [2, 3, 4, 5, 6, 10, 13, 21, 23, 0x31, 0x41];
    for (let round = 0; round < 2000; round++) {
      const decoder = createFrameDecoder();
      const noise = Uint8Array.from({ length: Math.floor(next() * 60) }, () =>
        next() < 0.5 ? (telling[Math.floor(next() * telling.length)] ?? 0) : Math.floor(next() * 256),
      );
      decoder.push(noise);
      decoder.quiet();
      decoder.push(bytesOf('\r\n'));
      const events = decoder.push(bytesOf(frameText('L|1|N\r')));
      expect(events.at(-1), `round ${round}`).toEqual({ kind: 'frame', number: 1, text: 'L|1|N\r', last: true });
    }
  });
});

/** True where two bytes are one hexadecimal digit in its two cases. */
function changesCase(a: number | undefined, b: number): boolean {
  const digit = String.fromCharCode(a ?? 0);
  return /[A-F]/.test(digit) && String.fromCharCode(b) === digit.toLowerCase();
}

describe('the frame writer', () => {
  it('cuts a long record into ETB frames and one ETX frame, numbered on', () => {
    const text = `C|1|I|${'long '.repeat(120)}|G`;
    const frames = encodeFrames(text, 6);
    const events = decode(...frames);
    expect(frames.every((frame) => frame.length <= 247)).toBe(true);
    expect(events.map((event) => event.kind === 'frame' && [event.number, event.last])).toEqual([
      [6, false],
      [7, false],
      [0, true],
    ]);
    expect(events.map((event) => (event.kind === 'frame' ? event.text : '')).join('')).toBe(`${text}\r`);
  });

  it('numbers a message 1 to 7, 0, 1', () => {
    const events = decode(...encodeMessage(Array.from({ length: 10 }, (_, i) => `P|${i + 1}`)));
    expect(events.map((event) => event.kind === 'frame' && event.number)).toEqual([1, 2, 3, 4, 5, 6, 7, 0, 1, 2]);
  });

  it('cuts nothing off at the border of 240 bytes', () => {
    for (const length of [238, 239, 240, 241, 479, 480, 481]) {
      const text = 'x'.repeat(length);
      const got = decode(...encodeFrames(text, 1)).map((event) => (event.kind === 'frame' ? event.text : '?'));
      expect(got.join(''), `${length}`).toBe(`${text}\r`);
    }
  });

  it('refuses a text with a restricted character and a number beyond 7', () => {
    expect(() => encodeFrame(1, bytesOf('P|1|\x05'), true)).toThrow(/does not allow/);
    expect(() => encodeFrame(8, bytesOf('P|1'), true)).toThrow(/does not allow/);
  });
});
