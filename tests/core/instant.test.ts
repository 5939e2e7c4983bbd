/** True time as text: one formatter and one parser. */
import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { formatInstant, formatSeconds, instant, parseInstant } from '../../src/core/instant.ts';

const seed = Number(process.env['SEED'] ?? 20260301);

describe('an instant', () => {
  it.each([
    ['floor', '2026-03-02T10:15:00Z'],
    ['ceil', '2026-03-02T10:15:01Z'],
    ['round', '2026-03-02T10:15:00Z'],
  ] as const)('is written in whole seconds by %s', (rounding, text) => {
    expect(formatSeconds(instant(Date.UTC(2026, 2, 2, 10, 15, 0, 499)), rounding)).toBe(text);
  });

  it('keeps a whole second under every rounding, also before 1970', () => {
    for (const rounding of ['floor', 'ceil', 'round'] as const)
      expect(formatSeconds(instant(-1000), rounding)).toBe('1969-12-31T23:59:59Z');
  });

  it.each([
    ['2026-03-02T10:15:00Z', Date.UTC(2026, 2, 2, 10, 15)],
    ['2026-03-02T10:15:00.25Z', Date.UTC(2026, 2, 2, 10, 15, 0, 250)],
    ['2026-03-02T10:15:00+02:30', Date.UTC(2026, 2, 2, 7, 45)],
    ['2024-02-29T00:00:00Z', Date.UTC(2024, 1, 29)],
  ])('is read from %s', (text, ms) => {
    expect(parseInstant(text)).toEqual({ ok: true, value: ms });
  });

  it.each([
    '',
    '2026-03-02',
    '2026-03-02T10:15:00', // no zone: a meter's time is not an instant
    '2026-3-2T10:15:00Z',
    '2026-02-30T10:15:00Z',
    '2025-02-29T10:15:00Z',
    '2026-13-01T10:15:00Z',
    '2026-03-02T25:00:00Z',
    '2026-03-02T10:60:00Z',
    '2026-03-02T10:15:00ZZ',
    ' 2026-03-02T10:15:00Z',
  ])('is not read from "%s"', (text) => {
    expect(parseInstant(text).ok).toBe(false);
  });

  it(`comes back from its own text to the millisecond (SEED=${seed})`, () => {
    fc.assert(
      fc.property(fc.integer({ min: Date.UTC(1970, 0), max: Date.UTC(2100, 0) }), (ms) => {
        expect(parseInstant(formatInstant(instant(ms)))).toEqual({ ok: true, value: ms });
      }),
      { seed },
    );
  });
});
