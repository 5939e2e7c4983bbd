import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { type Delimiters, readDelimiters, USUAL_DELIMITERS } from '../../../src/wire/astm/delimiters.ts';
import { decodeCharacters } from '../../../src/wire/astm/escapes.ts';
import { type RecordView, viewRecord } from '../../../src/wire/astm/record-view.ts';
import { type AstmField, type AstmRecord, record, writeRecord } from '../../../src/wire/astm/records.ts';
import { parseRecord } from '../../support/astm-record.ts';

const SEED = Number(process.env['SEED'] ?? 20260303);
const D = USUAL_DELIMITERS;

function parsed(text: string, d = D): AstmRecord {
  const result = parseRecord(text, d);
  if (!result.ok) throw new Error(result.problem);
  return result.value;
}
function viewed(text: string, d = D): RecordView {
  const result = viewRecord(text, d);
  if (!result.ok) throw new Error(result.problem);
  return result.value;
}

describe('delimiters', () => {
  it('are those that the header declares', () => {
    expect(readDelimiters('H|\\^&|||x')).toEqual({ ok: true, value: D });
    expect(readDelimiters('H*~!$')).toEqual({
      ok: true,
      value: { field: '*', repeat: '~', component: '!', escape: '$' },
    });
  });

  it.each(['', 'H', 'H|', 'H|\\^', 'P|\\^&', 'H|\\^^|', 'H|a^&|', 'H|\\^&x', 'H|\\ &|', 'H\u00e9\\^&\u00e9'])(
    'are refused where there are not four different marks: %j',
    (text) => {
      expect(readDelimiters(text).ok).toBe(false);
    },
  );
});

describe('reading a record', () => {
  it('keeps fields, repeats and components', () => {
    expect(parsed('R|1|^^^INR|2.6|{INR}|2.0^3.0\\1.5^4.0|L\\<|').fields).toEqual([
      'R',
      '1',
      [['', '', '', 'INR']],
      '2.6',
      '{INR}',
      [
        ['2.0', '3.0'],
        ['1.5', '4.0'],
      ],
      [['L'], ['<']],
    ]);
  });

  it('knows all nine types and no other', () => {
    for (const type of 'HPQORCMSL') expect(parseRecord(type === 'H' ? 'H|\\^&' : `${type}|1`, D).ok, type).toBe(true);
    for (const text of ['', 'X|1', 'h|1', 'R1', 'RR|1', '|R']) expect(parseRecord(text, D).ok, text).toBe(false);
  });

  it('resolves the escapes of E1394, and leaves unknown ones as they stand', () => {
    const { fields } = parsed('C|1|I|&F&&S&&R&&E&^&X41C3A9&|&H&high&N&|&Q& & &X4&|&XE9&');
    expect(fields.slice(3)).toEqual([[['|^\\&', 'A\u00e9']], 'high', '&Q& & &X4&', '\u00e9']);
  });

  it('reads no escapes in manufacturer records', () => {
    expect(parsed('M|1|strip^A&F&B').fields[2]).toEqual([['strip', 'A&F&B']]);
  });

  it('tells an explicit nothing from an absent value', () => {
    expect(parsed('P|1||""|x').fields).toEqual(['P', '1', '', '""', 'x']);
  });
});

describe('characters', () => {
  it('are UTF-8 where the bytes are, else Latin-1', () => {
    const bytes = (text: string, encoding: BufferEncoding): string => Buffer.from(text, encoding).toString('latin1');
    expect(decodeCharacters(bytes('Zo\u00eb', 'utf8'))).toBe('Zo\u00eb');
    expect(decodeCharacters(bytes('Zo\u00eb', 'latin1'))).toBe('Zo\u00eb');
    expect(decodeCharacters('plain')).toBe('plain');
  });
});

describe('writing a record', () => {
  it('leaves out empty fields at the end and writes the declared delimiters', () => {
    expect(writeRecord(record('H', '', '', '', [['GM-20', 'SN1']], '', ''))).toBe('H|\\^&|||GM-20^SN1');
    expect(writeRecord(record('L', '1', 'N'))).toBe('L|1|N');
  });

  it('escapes delimiters and control characters', () => {
    expect(writeRecord(record('C', '1', 'I', 'a|b^c\\d&e\r\nf'))).toBe('C|1|I|a&F&b&S&c&R&d&E&e&X0D0A&f');
  });

  it('refuses what E1394 cannot write', () => {
    expect(() => writeRecord(record('M', '1', 'a|b'))).toThrow(/no escapes in M/);
    expect(() => writeRecord(record('M', '1', 'a\rb'))).toThrow(/no escapes in M/);
    expect(() => writeRecord({ type: 'R', fields: ['P'] })).toThrow(/first field/);
  });
});

describe('records', () => {
  const OTHER: Delimiters = { field: '*', repeat: '~', component: '!', escape: '$' };
  const wellFormed = (text: string): boolean => Buffer.from(text, 'utf8').toString('utf8') === text;
  const anyText = fc.oneof(
    fc.string({ maxLength: 8 }),
    fc.string({ unit: 'binary', maxLength: 6 }).filter(wellFormed),
    fc.string({
      unit: fc.constantFrom('|', '\\', '^', '&', '*', '~', '!', '$', 'F', 'X', 'A', '\r', '\u007f'),
      maxLength: 8,
    }),
  );
  const plainText = fc.string({ unit: fc.constantFrom('a', 'B', '7', '&', '-', ' ', '\u00e9'), maxLength: 8 });
  const fieldOf = (text: fc.Arbitrary<string>): fc.Arbitrary<AstmField> =>
    fc.oneof(
      text,
      fc
        .array(fc.array(text, { minLength: 1, maxLength: 4 }), { minLength: 1, maxLength: 3 })
        .filter((repeats) => repeats.length > 1 || (repeats[0]?.length ?? 0) > 1),
    );
  const recordOf = (types: readonly AstmRecord['type'][], text: fc.Arbitrary<string>): fc.Arbitrary<AstmRecord> =>
    fc
      .record({ type: fc.constantFrom(...types), rest: fc.array(fieldOf(text), { maxLength: 8 }) })
      .map(({ type, rest }) => {
        const fields: AstmField[] = [type, ...rest];
        while (fields.length > 1 && fields.at(-1) === '') fields.pop();
        return { type, fields };
      });
  const anyRecord = fc.oneof(recordOf(['P', 'Q', 'O', 'R', 'C', 'S', 'L'], anyText), recordOf(['M'], plainText));

  it(`read back as they were written, with any delimiters (SEED=${SEED})`, () => {
    fc.assert(
      fc.property(anyRecord, fc.constantFrom(D, OTHER), (given, d) => {
        const text = writeRecord(given, d);
        expect([...text].every((ch) => ch >= ' ' && ch !== '\u007f')).toBe(true);
        expect(parsed(text, d)).toEqual(given);
      }),
      { seed: SEED, numRuns: 2000 },
    );
  });

  it(`tell the same field by field as they do whole (SEED=${SEED})`, () => {
    fc.assert(
      fc.property(anyRecord, fc.constantFrom(D, OTHER), (given, d) => {
        const view = viewed(writeRecord(given, d), d);
        for (let n = 1; n <= given.fields.length + 1; n++) {
          const field = given.fields[n - 1] ?? '';
          const repeats = typeof field === 'string' ? [[field]] : field;
          expect(view.field(n)).toBe(repeats.map((parts) => parts.join('^')).join('\\'));
          for (let c = 1; c <= 5; c++) expect(view.component(n, c)).toBe(repeats[0]?.[c - 1] ?? '');
          const filled = (repeats[0] ?? []).flatMap((part, i) => (part === '' ? [] : [i + 1]));
          expect(view.hasOnly(n, filled)).toBe(repeats.length === 1);
          if (filled.length > 0) expect(view.hasOnly(n, filled.slice(1))).toBe(false);
        }
      }),
      { seed: SEED, numRuns: 1000 },
    );
  });

  it(`never throw on reading (SEED=${SEED})`, () => {
    fc.assert(
      fc.property(fc.string({ unit: 'binary', maxLength: 40 }), (text) => {
        const result = parseRecord(text, D);
        if (result.ok) expect(result.value.type).toBe(text.charAt(0));
      }),
      { seed: SEED, numRuns: 2000 },
    );
  });
});
