/**
 * Published sums of E1381 frames. Source: T. W. Genaux, "Calculating the checksum of a UTF8 encoded LIS01 frame",
 * twgenaux.github.io, 4 March 2025.
 */
import { describe, expect, it } from 'vitest';
import { decodeCharacters } from '../../src/wire/astm/escapes.ts';
import { encodeFrame } from '../../src/wire/astm/frame-writer.ts';
import { frameSum } from '../../src/wire/astm/link-bytes.ts';
import { createFrameDecoder } from '../../src/wire/astm/link-frames.ts';

const PUBLISHED = [
  { name: 'a terminator record', bytes: Buffer.from('4L|1|N\r\x03', 'latin1'), sum: '07', text: 'L|1|N\r' },
  {
    name: 'a patient record with a name in UTF-8',
    bytes: Buffer.from(
      '32507C317C3636367C7C7C' + 'E9A0ADE38184E38184' + '5E' + 'E7B4A0E699B4E38289E38197E38184' + '7C7C7C550D03',
      'hex',
    ),
    sum: '3D',
    text: 'P|1|666|||頭いい^素晴らしい|||U\r',
  },
];

describe.each(PUBLISHED)('the published sum of $name', ({ bytes, sum, text }) => {
  const whole = Buffer.concat([Buffer.of(2), bytes, Buffer.from(`${sum}\r\n`)]);

  it('is the sum that we compute', () => {
    expect(frameSum(bytes)).toBe(Number.parseInt(sum, 16));
  });

  it('is accepted by the decoder, with the text as published', () => {
    const [frame, ...more] = createFrameDecoder().push(whole);
    expect(more).toEqual([]);
    expect(frame).toMatchObject({ kind: 'frame', number: Number(String.fromCharCode(bytes[0] ?? 0)), last: true });
    expect(frame?.kind === 'frame' ? decodeCharacters(frame.text) : '').toBe(text);
  });

  it('stands in the frame that we write', () => {
    const number = (bytes[0] ?? 0) - 0x30;
    expect(Buffer.from(encodeFrame(number, Buffer.from(text, 'utf8'), true)).equals(whole)).toBe(true);
  });

  it('is refused when any other sum stands there', () => {
    for (let other = 0; other < 256; other++) {
      const told = other.toString(16).toUpperCase().padStart(2, '0');
      if (told === sum) continue;
      const frame = Buffer.concat([Buffer.of(2), bytes, Buffer.from(`${told}\r\n`)]);
      expect(createFrameDecoder().push(frame)).toEqual([{ kind: 'bad-frame', reason: 'sum' }]);
    }
  });
});
