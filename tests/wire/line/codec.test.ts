/** The line codec against the published vectors and against itself. */
import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { encodeBody, encodeLine, MAX_BODY, parseBody } from '../../../src/wire/line/codec.ts';
import { createLineDecoder } from '../../../src/wire/line/decoder.ts';
import { seedOr } from '../../support/seed.ts';
import { bytesOf, vectors } from './vectors.ts';

const SEED = seedOr(20260301);

function bodyIn(bytes: string): string {
  const [frame] = createLineDecoder().push(bytesOf(bytes));
  if (frame?.kind !== 'line') throw new Error(`not a line: ${JSON.stringify(bytes)}`);
  return frame.body;
}

describe('reading a body', () => {
  it.each(vectors.lines)('reads $name', ({ bytes, verb, fields }) => {
    const parsed = parseBody(bodyIn(bytes));
    expect(parsed).toEqual({ ok: true, value: { verb, fields: new Map(Object.entries(fields)) } });
  });

  it.each(vectors.badLines.filter((line) => line.reason === 'form'))('refuses $name', ({ bytes }) => {
    const parsed = parseBody(bodyIn(bytes));
    expect(parsed.ok).toBe(false);
    if (!parsed.ok) expect(parsed.problem.length).toBeGreaterThan(5);
  });

  it('keeps keys in the order in which they stood', () => {
    const parsed = parseBody('REC z=1 a=2 m=3');
    expect(parsed.ok && [...parsed.value.fields.keys()]).toEqual(['z', 'a', 'm']);
  });

  it(`never throws, whatever the text (SEED=${SEED})`, () => {
    const text = fc.oneof(
      fc.string({ unit: 'binary', maxLength: 250 }),
      fc.string({ unit: fc.constantFrom(...'AB ab=%C3*9.-\u00e9\u0000'), maxLength: 60 }),
    );
    fc.assert(
      fc.property(text, (body) => {
        const parsed = parseBody(body);
        expect(typeof parsed.ok).toBe('boolean');
      }),
      { seed: SEED, numRuns: 3000 },
    );
  });
});

const key = fc.stringMatching(/^[a-z][a-z0-9.-]{0,15}$/);
const value = fc.string({ unit: 'grapheme', minLength: 1, maxLength: 12 });
const message = fc
  .record({
    verb: fc.stringMatching(/^[A-Z]{2,8}$/),
    fields: fc.dictionary(key, value, { maxKeys: 5, noNullPrototype: true }),
  })
  // A body of more than 230 bytes is refused; the test below holds that promise.
  .filter(({ verb, fields }) => {
    const bytes = Object.entries(fields).reduce(
      (n, [k, v]) => n + k.length + 2 + new TextEncoder().encode(v).length * 3,
      0,
    );
    return verb.length + bytes <= MAX_BODY;
  });

describe('writing a line', () => {
  it(`gives back every verb and every field when it is read again (SEED=${SEED})`, () => {
    fc.assert(
      fc.property(message, ({ verb, fields }) => {
        const [frame, ...more] = createLineDecoder().push(encodeLine(verb, fields));
        expect(more).toEqual([]);
        const parsed = frame?.kind === 'line' ? parseBody(frame.body) : undefined;
        expect(parsed).toEqual({ ok: true, value: { verb, fields: new Map(Object.entries(fields)) } });
      }),
      { seed: SEED, numRuns: 2000 },
    );
  });

  it('writes the lines of the published examples byte for byte', () => {
    expect(encodeLine('HELLO', { v: 1 })).toEqual(bytesOf('HELLO v=1*4282\r\n'));
    expect(encodeLine('READ')).toEqual(bytesOf('READ*DC73\r\n'));
    expect(encodeLine('SET', { t: '2026-03-02T10:15:00' })).toEqual(bytesOf('SET t=2026-03-02T10:15:00*2943\r\n'));
  });

  it('writes every byte of UTF-8 outside the plain ones as two upper-case digits', () => {
    expect(encodeBody('NOTE', { m: 'a b=é%*' })).toBe('NOTE m=a%20b%3D%C3%A9%25%2A');
  });

  it.each([
    ['a wrong verb', 'hello', {}],
    ['a wrong key', 'HELLO', { V: 1 }],
    ['an empty value', 'HELLO', { v: '' }],
    ['a body that is too long', 'NOTE', { m: 'x'.repeat(224) }],
  ])('refuses %s of our own instead of sending it', (_, verb, fields) => {
    expect(() => encodeLine(verb, fields)).toThrow(expect.objectContaining({ code: 'INTERNAL' }));
  });
});
