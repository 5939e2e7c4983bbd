/** The tally in text: one look tells how many are new and whether the memory had wrapped. */
import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { drawTally, type Stroke, type TallyRow, tallyLegend, tallyStyle } from '../../src/cli/tally.ts';

const seed = Number(process.env['SEED'] ?? 20260301);
const strokes = (kind: Stroke['kind'], isNew: boolean, count: number): Stroke[] => Array(count).fill({ kind, isNew });
const row = (parts: Partial<TallyRow>): TallyRow => ({ strokes: [], open: 0, isTorn: false, ...parts });

describe('the tally', () => {
  it('bundles strokes in fives and tells known from new by their shape', () => {
    const tests = [...strokes('patient', false, 6), ...strokes('patient', true, 3)];
    expect(drawTally(row({ strokes: tests }), 'box', 80)).toEqual(['│││││ │║║║']);
    expect(drawTally(row({ strokes: tests }), 'ascii', 80)).toEqual(["''''' '|||"]);
  });

  it('gives a control test a foot, breaks the stroke of an error test and leaves open what is still to come', () => {
    const tests = [...strokes('control', true, 1), ...strokes('control', false, 1), ...strokes('error', true, 1)];
    expect(drawTally(row({ strokes: [...tests, ...strokes('error', false, 1)], open: 3 }), 'box', 80)).toEqual([
      '╨┴¦:· ··',
    ]);
    expect(drawTally(row({ strokes: tests, open: 3 }), 'ascii', 80)).toEqual(['L,!__ _']);
  });

  it('starts with a torn edge where the memory is full', () => {
    expect(drawTally(row({ strokes: strokes('patient', true, 2), isTorn: true }), 'box', 80)).toEqual(['≈ ║║']);
  });

  it('uses a different character for each of its eight meanings, in both styles', () => {
    for (const style of ['box', 'ascii'] as const) {
      const marks = [true, false].flatMap((isNew) =>
        (['patient', 'control', 'error'] as const).map(
          (kind) => drawTally(row({ strokes: [{ kind, isNew }] }), style, 9)[0],
        ),
      );
      marks.push(drawTally(row({ open: 1 }), style, 9)[0], drawTally(row({ isTorn: true }), style, 9)[0]);
      expect(new Set(marks).size).toBe(8);
      expect(marks.every((mark) => mark?.length === 1)).toBe(true);
    }
  });

  it('stays in ASCII where the terminal cannot show more', () => {
    for (const mark of drawTally(
      row({ strokes: strokes('patient', true, 40), open: 5, isTorn: true }),
      'ascii',
      40,
    ).join(''))
      expect(mark.charCodeAt(0)).toBeLessThan(0x7f);
  });

  it(`shows every test once and no line wider than asked for (SEED=${seed})`, () => {
    const counts = fc.record({ known: fc.nat(250), fresh: fc.nat(250), open: fc.nat(250), torn: fc.boolean() });
    fc.assert(
      fc.property(counts, fc.integer({ min: 11, max: 200 }), ({ known, fresh, open, torn }, width) => {
        const tests = [...strokes('patient', false, known), ...strokes('patient', true, fresh)];
        const lines = drawTally({ strokes: tests, open, isTorn: torn }, 'box', width);
        const text = lines.join('');
        expect(lines.every((line) => line.length <= width)).toBe(true);
        expect([text.split('│').length - 1, text.split('║').length - 1, text.split('·').length - 1]).toEqual([
          known,
          fresh,
          open,
        ]);
      }),
      { seed },
    );
  });

  it('has a legend that names what the row shows, and nothing else', () => {
    expect(tallyLegend(row({ strokes: strokes('patient', true, 1) }), 'box')).toBe('║ new');
    expect(tallyLegend(row({ strokes: strokes('control', false, 1), open: 2, isTorn: true }), 'ascii')).toBe(
      ', known control   _ not read   ~ memory full: the oldest are overwritten',
    );
  });

  it.each([
    [{ LANG: 'en_GB.UTF-8' }, 'linux', 'box'],
    [{ LANG: 'C' }, 'linux', 'ascii'],
    [{ LANG: 'en_GB.UTF-8', LC_ALL: 'C' }, 'linux', 'ascii'],
    [{}, 'linux', 'ascii'],
    [{}, 'win32', 'box'],
    [{}, 'darwin', 'box'],
    [{ LANG: 'en_GB.UTF-8', TERM: 'linux' }, 'linux', 'ascii'],
    [{ TALLYDOCK_ASCII: '1' }, 'win32', 'ascii'],
  ] as const)('with %j on %s it is drawn as %s', (env, platform, style) => {
    expect(tallyStyle(env, platform)).toBe(style);
  });
});
