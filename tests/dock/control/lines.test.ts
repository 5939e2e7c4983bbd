/** The line cutter: the same lines wherever the stream is cut, and never more than its bound in memory. */
import { describe, expect, it } from 'vitest';
import { makeLineCutter } from '../../../src/dock/control/lines.ts';

const TEXT = Buffer.from('{"op":"status"}\n\nzw\u00f6lf Stra\u00dfen \u{1f600}\nlast\nno end');
const LINES = ['{"op":"status"}', '', 'zw\u00f6lf Stra\u00dfen \u{1f600}', 'last'];

describe('a line cutter', () => {
  it('gives the same lines wherever the stream is cut', () => {
    for (let one = 0; one <= TEXT.length; one++)
      for (let two = one; two <= TEXT.length; two++) {
        const cutter = makeLineCutter(100);
        const parts = [TEXT.subarray(0, one), TEXT.subarray(one, two), TEXT.subarray(two)];
        expect(parts.flatMap((part) => cutter.push(part))).toEqual(LINES);
      }
  });

  it('takes a line of exactly its bound, and not one byte more, however it comes', () => {
    for (let cut = 0; cut <= 10; cut++) {
      const [fits, long] = [Buffer.from(`${'x'.repeat(10)}\n`), Buffer.from(`${'x'.repeat(11)}\n`)];
      const push = (bytes: Buffer) => {
        const cutter = makeLineCutter(10);
        const told = [cutter.push(bytes.subarray(0, cut)), cutter.push(bytes.subarray(cut))];
        return told.includes('too-long') ? 'too-long' : told.flat();
      };
      expect(push(fits)).toEqual(['x'.repeat(10)]);
      expect(push(long)).toBe('too-long');
    }
  });

  it('notices a line without end as soon as it is too long', () => {
    const cutter = makeLineCutter(10);
    expect(cutter.push(Buffer.from('xxxxx'))).toEqual([]);
    expect(cutter.push(Buffer.from('xxxxxx'))).toBe('too-long');
  });
});
