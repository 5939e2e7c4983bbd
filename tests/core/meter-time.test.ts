/** A meter's wall clock: text and number at the resolution that the meter shows, without a zone. */
import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { formatWall, meterTimeOf, parseCompactTime, parseMeterTime, wall } from '../../src/core/meter-time.ts';

const seed = Number(process.env['SEED'] ?? 20260301);
const at = (...fields: Parameters<typeof Date.UTC>) => Date.UTC(...fields);

describe("a meter's time", () => {
  it.each([
    ['2026-03-02T10:15:09', at(2026, 2, 2, 10, 15, 9), 1000],
    ['2026-03-02T10:15', at(2026, 2, 2, 10, 15), 60_000],
    ['2026-03-02', at(2026, 2, 2), 86_400_000],
    ['2024-02-29T23:59:59', at(2024, 1, 29, 23, 59, 59), 1000],
  ])('is read from %s at its resolution, and its text is kept', (text, ms, resolutionMs) => {
    expect(parseMeterTime(text)).toEqual({ ok: true, value: { text, wall: ms, resolutionMs } });
  });

  it.each([
    ['20260302101509', '2026-03-02T10:15:09', 1000],
    ['202603021015', '2026-03-02T10:15', 60_000],
    ['20260302', '2026-03-02', 86_400_000],
  ])('is read from the compact %s as %s', (compact, text, resolutionMs) => {
    expect(parseCompactTime(compact)).toMatchObject({ ok: true, value: { text, resolutionMs } });
  });

  it.each([
    '2026-02-30T10:15',
    '2025-02-29',
    '2026-00-10',
    '2026-13-01',
    '2026-03-02T24:00',
    '2026-03-02T10:60',
    '2026-03-02T10:15:60',
  ])('is refused where it does not exist: %s', (text) => {
    expect(parseMeterTime(text).ok).toBe(false);
    expect(parseCompactTime(text.replace(/[-T:]/g, '')).ok).toBe(false);
  });

  it.each([
    '',
    '-',
    '2026-03-02 10:15',
    '2026-03-02T10:15Z',
    '2026-03-02T10',
    '26-03-02T10:15',
    '2026-03-02T10:15:09.5',
  ])('is refused where it has another form: "%s"', (text) => {
    expect(parseMeterTime(text).ok).toBe(false);
  });

  it.each(['', '2026', '2026030210', '20260302101509+0100', '2026030210150'])(
    'is refused where the compact form is another: "%s"',
    (text) => {
      expect(parseCompactTime(text).ok).toBe(false);
    },
  );

  it(`is what a clock shows: digits are cut off, and the text reads back (SEED=${seed})`, () => {
    const moment = fc.integer({ min: at(1990, 0), max: at(2080, 0) });
    fc.assert(
      fc.property(moment, fc.constantFrom(1000, 60_000, 86_400_000), (ms, resolutionMs) => {
        const shown = meterTimeOf(wall(ms), resolutionMs);
        expect(shown.wall).toBeLessThanOrEqual(ms);
        expect(ms - shown.wall).toBeLessThan(resolutionMs);
        expect(parseMeterTime(shown.text)).toEqual({ ok: true, value: shown });
      }),
      { seed },
    );
  });

  it('is written to the second unless told otherwise', () => {
    expect(formatWall(wall(at(2026, 2, 2, 10, 15, 9, 999)))).toBe('2026-03-02T10:15:09');
  });
});
