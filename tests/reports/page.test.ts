/** The paper and the strokes: text stays text, axes stand on local dates, words are exact. */
import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { instant } from '../../src/core/instant.ts';
import { zoneOf } from '../../src/core/zone.ts';
import {
  figure,
  glance,
  htmlPage,
  list,
  needsYou,
  paragraph,
  remark,
  signature,
  table,
} from '../../src/reports/page.ts';
import { percentRange, sureWords } from '../../src/reports/plain-words.ts';
import { dateTicks, picture, roundTicks, scale, words } from '../../src/reports/svg.ts';
import { seedOr } from '../support/seed.ts';

const SEED = seedOr(53);
const lisbon = zoneOf('Europe/Lisbon');
const at = (text: string) => instant(Date.parse(text));

describe('the page', () => {
  it(`has the same markup whatever the text is (SEED=${SEED})`, () => {
    const pageWith = (text: string): string =>
      htmlPage({
        title: text,
        subtitle: text,
        clinic: text,
        printedAt: text,
        running: text,
        sections: [
          {
            heading: text,
            body: [
              paragraph(text, text),
              remark(text),
              needsYou(text),
              list([text]),
              glance([{ figure: text, says: text }]),
              table([text], [[text]], text),
              figure(picture(1, 1, text, text, [words(0, 0, text)]), text, table([text], [[text]])),
              signature(text),
            ],
          },
        ],
      });
    const marks = (html: string): string =>
      (html.match(/<[^>]*>/g) ?? []).map((tag) => tag.replace(/aria-label="[^"]*"/, '')).join('');
    const plain = marks(pageWith('x'));
    fc.assert(
      fc.property(
        fc.oneof(
          fc.string(),
          fc.string({ unit: fc.constantFrom('<', '>', '"', "'", '&', '/', 'b', ' ', '-', '\u0000') }),
        ),
        (text) => marks(pageWith(text).replace(/<span class="d">(.*?)<\/span>/g, '$1')) === plain,
      ),
      { seed: SEED },
    );
  });
});

describe('scales and ticks', () => {
  it('map both ends, and put everything in the middle where there is no span', () => {
    const x = scale(0, 10, 100, 200);
    expect([x(0), x(5), x(10)]).toEqual([100, 150, 200]);
    expect(scale(3, 3, 100, 200)(3)).toBe(150);
  });

  it('are round numbers within the ends', () => {
    expect(roundTicks(1, 7)).toEqual([1, 2, 3, 4, 5, 6, 7]);
    expect(roundTicks(0.1, 0.5, 4)).toEqual([0.1, 0.2, 0.3, 0.4, 0.5]);
    expect(roundTicks(2, 2)).toEqual([2]);
  });

  it('of time stand on the first moment of local days, through the change of the clocks in spring', () => {
    const ticks = dateTicks(at('2026-03-27T12:00:00Z'), at('2026-03-31T12:00:00Z'), lisbon);
    expect(ticks.map(({ at: t, says }) => [new Date(t).toISOString(), says])).toEqual([
      ['2026-03-28T00:00:00.000Z', '28 Mar 2026'],
      ['2026-03-29T00:00:00.000Z', '29 Mar'],
      ['2026-03-29T23:00:00.000Z', '30 Mar'],
      ['2026-03-30T23:00:00.000Z', '31 Mar'],
    ]);
  });

  it('of a long course name the year where it begins', () => {
    const ticks = dateTicks(at('2025-09-15T00:00:00Z'), at('2026-03-15T00:00:00Z'), lisbon);
    expect(ticks.map((t) => t.says)).toEqual(['Oct 2025', 'Nov', 'Dec', 'Jan 2026', 'Feb', 'Mar']);
  });
});

describe('words', () => {
  it('round a range of shares outwards, so that it surely holds the share', () => {
    expect(percentRange(0.621, 0.7101)).toBe('62 to 72 %');
    expect(percentRange(0.5, 0.5)).toBe('50 %');
  });

  it('say how sure a time is', () => {
    const t = at('2026-03-02T10:15:00Z');
    const off = (ms: number) => instant(t + ms);
    expect(sureWords({ at: t, earliest: off(-20_000), latest: off(20_000) }, lisbon)).toBe('sure');
    expect(sureWords({ at: t, earliest: off(-180_000), latest: off(180_000) }, lisbon)).toBe('± 3 min');
    expect(sureWords({ at: t, earliest: off(-7_200_000), latest: off(60_000) }, lisbon)).toBe(
      'between 2026-03-02 08:15 and 2026-03-02 10:16',
    );
    expect(sureWords({ at: t, latest: t }, lisbon)).toBe('not later than 2026-03-02 10:15');
    expect(sureWords({ at: t, earliest: t }, lisbon)).toBe('not earlier than 2026-03-02 10:15');
    expect(sureWords({ at: t }, lisbon)).toBe('as the meter showed it, not checked');
  });
});
