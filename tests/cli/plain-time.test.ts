/** Times and spans in words for people. */
import { describe, expect, it } from 'vitest';
import { clockOffText, localMinute, localSecond } from '../../src/cli/plain-time.ts';
import { instant } from '../../src/core/instant.ts';
import { spanInWords } from '../../src/core/span-words.ts';

describe('words for time', () => {
  it('give an instant as local time of the named zone', () => {
    const at = instant(Date.UTC(2026, 6, 2, 9, 15, 42));
    expect(localMinute(at, 'Europe/Lisbon')).toBe('2026-07-02 10:15');
    expect(localSecond(at, 'Asia/Kathmandu')).toBe('2026-07-02 15:00:42');
  });

  it.each([
    [0, '0 s'],
    [0.4, '0 s'],
    [59, '59 s'],
    [-192, '3 min 12 s'],
    [3600, '1 h'],
    [7205, '2 h'],
    [43_200 + 120, '12 h 2 min'],
    [86_400, '1 day'],
    [86_400 * 52 + 3600 * 3 + 7, '52 days 3 h'],
    [31_557_600 * 26 + 86_400 * 52, '26 years 52 days'],
    [59.7, '1 min'],
  ])('give %d seconds as %s', (seconds, text) => {
    expect(spanInWords(seconds)).toBe(text);
  });

  it.each([
    [0, 'right'],
    [1, 'right'],
    [-75, '1 min 15 s slow'],
    [3600, '1 h fast'],
  ])('call a clock that is %d s off %s', (seconds, text) => {
    expect(clockOffText(seconds)).toBe(text);
  });
});
