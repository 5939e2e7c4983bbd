/** The published page and its vectors say the same as the program does. */
import { readFileSync } from 'node:fs';
import { describe, expect, it } from 'vitest';
import { encodeBody, parseBody } from '../../../src/wire/line/codec.ts';
import { createLineDecoder } from '../../../src/wire/line/decoder.ts';
import { claimOf } from '../../../src/wire/line/proof.ts';
import { conversation, vectors } from './vectors.ts';

const PAGE = readFileSync(new URL('../../../protocols/line/README.md', import.meta.url), 'utf8');

describe('the published page', () => {
  it('shows the same conversation as the vectors', () => {
    const shown = PAGE.split('\n').filter((line) => /^[<>] [A-Z]/.test(line));
    expect(shown).toEqual(vectors.conversations[0]?.lines);
  });

  it('gives an ABNF for a value that agrees with the codec byte by byte', () => {
    const [, abnf = ''] = /^plain +=(.+)$/m.exec(PAGE) ?? [];
    const plain = new Set<number>();
    for (const [, from = '', to = ''] of abnf.matchAll(/%x([0-9A-F]{2})-([0-9A-F]{2})/g))
      for (let byte = Number.parseInt(from, 16); byte <= Number.parseInt(to, 16); byte++) plain.add(byte);
    expect(plain.size).toBe(91);
    for (let byte = 1; byte < 128; byte++) {
      const char = String.fromCharCode(byte);
      expect(parseBody(`NOTE m=a${char}a`).ok).toBe(plain.has(byte));
      expect(encodeBody('NOTE', { m: char })).toBe(
        plain.has(byte) ? `NOTE m=${char}` : `NOTE m=%${byte.toString(16).toUpperCase().padStart(2, '0')}`,
      );
    }
  });
});

describe('the published conversations', () => {
  it.each(vectors.conversations)(
    '$name: every line is a line, and END counts and sums the lines before it',
    ({ name }) => {
      const decoder = createLineDecoder();
      const bodies = conversation(name).flatMap(({ bytes }) => decoder.push(bytes));
      expect(bodies.every((frame) => frame.kind === 'line')).toBe(true);
      const whole = new Map<string, string>();
      let asked = '';
      for (const frame of bodies) {
        if (frame.kind !== 'line') continue;
        const parsed = parseBody(frame.body);
        if (!parsed.ok) throw new Error(parsed.problem);
        const { verb, fields } = parsed.value;
        if (verb === 'READ') asked = fields.get('from') ?? 'all';
        if (verb === 'REC') whole.set(`${asked} ${fields.get('i')}`, frame.body);
        if (verb !== 'END') continue;
        const told = [...whole].filter(([key]) => key.startsWith(`${asked} `)).map(([, body]) => body);
        // Where a line was left out as damaged, its END is proven by the line that was fetched again.
        if (told.length < Number(fields.get('n'))) continue;
        expect(claimOf(told)).toEqual({
          count: Number(fields.get('n')),
          crc: Number.parseInt(fields.get('x') ?? '', 16),
        });
      }
    },
  );

  it('the line fetched again makes the proof of the whole hold', () => {
    const lines = vectors.conversations.find((c) => c.name === 'one damaged line fetched again')?.lines ?? [];
    const bodies = lines.filter((line) => line.startsWith('< REC')).map((line) => line.slice(2, -5));
    const claim = claimOf(bodies.sort());
    expect(
      lines.some((line) => line.startsWith(`< END n=3 x=${claim.crc.toString(16).toUpperCase().padStart(4, '0')}`)),
    ).toBe(true);
  });
});
