/** The decoder: what is a line, what is dropped, and that chunk borders mean nothing. */
import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { encodeLine } from '../../../src/wire/line/codec.ts';
import { createLineDecoder, decodeChunk, type LineFrame, NO_TAIL } from '../../../src/wire/line/decoder.ts';
import { seedOr } from '../../support/seed.ts';
import { bytesOf, vectors } from './vectors.ts';

const SEED = seedOr(20260301);

const decodeWhole = (bytes: Uint8Array): LineFrame[] => {
  const decoder = createLineDecoder();
  return [...decoder.push(bytes), ...decoder.end()];
};
const wordOf = (frame: LineFrame): string => (frame.kind === 'line' ? frame.body : frame.reason);

describe('what a line is', () => {
  it.each(vectors.lines)('takes $name', ({ bytes }) => {
    const body = bytes.slice(0, bytes.lastIndexOf('*'));
    expect(decodeWhole(bytesOf(bytes))).toEqual([{ kind: 'line', body }]);
  });

  it.each(vectors.badLines.filter((line) => line.reason !== 'form'))('drops $name', ({ bytes, reason }) => {
    expect(decodeWhole(bytesOf(bytes))).toEqual([{ kind: 'discarded', reason, length: bytes.length }]);
  });

  it.each(vectors.streams)('in a stream: $name', ({ bytes, frames }) => {
    expect(decodeWhole(bytesOf(bytes)).map(wordOf)).toEqual(frames);
  });
});

describe('chunk borders', () => {
  const all = [...vectors.lines, ...vectors.badLines, ...vectors.streams].filter(({ bytes }) => bytes.length < 1500);

  it.each(all)('mean nothing in $name', ({ bytes: text }) => {
    const bytes = bytesOf(text);
    const whole = decodeWhole(bytes);
    for (let cut = 0; cut <= bytes.length; cut++) {
      const decoder = createLineDecoder();
      const frames = [...decoder.push(bytes.subarray(0, cut)), ...decoder.push(bytes.subarray(cut)), ...decoder.end()];
      expect(frames).toEqual(whole);
    }
  });

  it('mean nothing where every byte comes alone', () => {
    const bytes = bytesOf(all.map((vector) => vector.bytes).join('\n'));
    const decoder = createLineDecoder();
    const frames = [...bytes].flatMap((byte) => decoder.push(Uint8Array.of(byte)));
    expect([...frames, ...decoder.end()]).toEqual(decodeWhole(bytes));
  });
});

describe('noise', () => {
  const noise = fc.array(fc.uint8Array({ maxLength: 300 }), { maxLength: 8 });

  it(`never throws and is never taken for a line (SEED=${SEED})`, () => {
    fc.assert(
      fc.property(noise, (chunks) => {
        const decoder = createLineDecoder();
        const frames = [...chunks.flatMap((chunk) => decoder.push(chunk)), ...decoder.end()];
        expect(frames.filter((frame) => frame.kind === 'line')).toEqual([]);
      }),
      { seed: SEED, numRuns: 2000 },
    );
  });

  it(`costs no more than the line that it touches (SEED=${SEED})`, () => {
    fc.assert(
      fc.property(noise, (chunks) => {
        const decoder = createLineDecoder();
        for (const chunk of chunks) decoder.push(chunk);
        decoder.push(bytesOf('\n'));
        expect(decoder.push(encodeLine('BYE'))).toEqual([{ kind: 'line', body: 'BYE' }]);
      }),
      { seed: SEED },
    );
  });

  it('without an end holds no more than one line in memory', () => {
    let tail = NO_TAIL;
    let largest = 0;
    for (let i = 0; i < 50_000; i++) {
      ({ tail } = decodeChunk(tail, new Uint8Array(100).fill(0x55)));
      largest = Math.max(largest, tail.bytes.length);
    }
    expect(largest).toBeLessThanOrEqual(240);
    expect(decodeChunk(tail, bytesOf('\n')).frames).toEqual([
      { kind: 'discarded', reason: 'too-long', length: 5_000_001 },
    ]);
  });

  it(`in one byte of a line always costs the line, never changes it (SEED=${SEED})`, () => {
    const line = encodeLine('REC', { i: 1, t: '2026-03-02T10:15', k: 'p', a: 'INR', v: '2.6', u: '{INR}' });
    fc.assert(
      fc.property(fc.nat(line.length - 3), fc.integer({ min: 1, max: 255 }), (at, flip) => {
        const damaged = Uint8Array.from(line);
        damaged[at] = (damaged[at] ?? 0) ^ flip;
        expect(decodeWhole(damaged).filter((frame) => frame.kind === 'line')).toEqual([]);
      }),
      { seed: SEED, numRuns: 3000 },
    );
  });
});
