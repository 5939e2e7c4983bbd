/** The catalogue: what stands in one language stands in the other, as a sentence of its own; and formats by locale and zone. */
import { describe, expect, it } from 'vitest';
import { FAULT_CODES } from '../../../src/core/fault.ts';
import { makeFormat } from '../../../src/desk/page/format.ts';
import { addressOf, routeOf } from '../../../src/desk/page/router.ts';
import { de } from '../../../src/desk/page/words/de.ts';
import { en } from '../../../src/desk/page/words/en.ts';

/** Every text, by its place; those that take words are asked with samples. */
function texts(part: unknown, place = ''): [string, string][] {
  if (typeof part === 'string') return [[place, part]];
  if (typeof part === 'function') return [[place, String(part('A', 'B', 'C', 'D', 'E'))]];
  if (typeof part !== 'object' || part === null) return [];
  return Object.entries(part).flatMap(([key, value]) => texts(value, `${place}.${key}`));
}

/** Faults of commands that the desk has none of. */
const NOT_AT_DESK = [
  'CAPTURE_BROKEN',
  'STORE_MISSING',
  'STORE_NEWER',
  'STORE_EXISTS',
  'CHECK_FAILED',
  'DAEMON_RUNNING',
  'DAEMON_MISSING',
  'DAEMON_FAILED',
  'REBUILD_DIFFERS',
  'PTY_UNAVAILABLE',
];

describe('the catalogue', () => {
  const [english, german] = [texts(en), texts(de)];

  it('has the same texts in both languages, and none is empty', () => {
    expect(german.map(([place]) => place).sort()).toEqual(english.map(([place]) => place).sort());
    for (const [place, text] of [...english, ...german]) expect([place, text.trim().length > 0]).toEqual([place, true]);
  });

  it('is not English in its German sentences', () => {
    for (const [place, text] of german)
      if (text.split(' ').length > 3)
        expect([place, text.match(/\b(the|and|is|are|with|not|of)\b/g) ?? []]).toEqual([place, []]);
  });

  it('never repeats an English sentence in German', () => {
    const byPlace = new Map(german);
    const repeated = english.filter(
      ([place, text]) => text.split(' ').length > 2 && byPlace.get(place) === text && /[a-z]{2,}/i.test(text),
    );
    expect(repeated).toEqual([]);
  });

  it('has words of its own, with a next step, for every fault that the desk can show', () => {
    const missing = FAULT_CODES.filter((code) => !(code in en.faults) || !(code in de.faults));
    expect(missing).toEqual(NOT_AT_DESK);
    for (const { says, todo } of [...Object.values(en.faults), ...Object.values(de.faults)])
      expect([says.length > 5, todo.length > 5]).toEqual([true, true]);
  });

  it('says nothing of a dose', () => {
    const said = [...english, ...german].filter(([, text]) => /\bdos(e|is)\b/i.test(text));
    expect(said).toEqual([]);
  });
});

describe('formats', () => {
  const NOW = Date.UTC(2026, 2, 3, 23, 30);
  const english = makeFormat('en', 'Europe/Lisbon', en, () => NOW);
  const german = makeFormat('de', 'Europe/Lisbon', de, () => NOW);
  const tokyo = makeFormat('en', 'Asia/Tokyo', en, () => NOW);

  it('are those of the language, in the clinic’s zone and never in UTC', () => {
    const at = Date.UTC(2026, 6, 3, 9, 5); // summer time: an hour ahead of UTC
    expect(english.moment(at)).toBe('3 July 2026, 10:05');
    expect(german.moment(at)).toBe('3. Juli 2026, 10:05');
    expect(english.value(12.34, '>')).toBe('> 12.3');
    expect(german.value(2.5)).toBe('2,5');
    expect(german.decimal('3.40')).toBe('3,40');
    expect(german.number(1234.5, 1)).toBe('1.234,5');
    expect(english.percent(0.684)).toBe('68 %');
  });

  it('call today and yesterday so by the clinic’s midnight, whatever the day is elsewhere', () => {
    expect(english.moment(Date.UTC(2026, 2, 3, 9))).toBe('today, 09:00');
    expect(english.moment(Date.UTC(2026, 2, 2, 9))).toBe('yesterday, 09:00');
    expect(tokyo.moment(Date.UTC(2026, 2, 3, 9))).toBe('yesterday, 18:00');
    expect(german.moment(Date.UTC(2026, 2, 2, 9))).toBe('gestern, 09:00');
  });

  it('count in the plural of the language', () => {
    expect([0, 1, 2].map((n) => english.count(n, en.terms.tests))).toEqual(['0 tests', '1 test', '2 tests']);
    expect([0, 1, 2].map((n) => german.count(n, de.terms.days))).toEqual(['0 Tage', '1 Tag', '2 Tage']);
  });
});

describe('addresses', () => {
  it.each(['PA-10014', 'a/b', 'ä ö', '100%', '#/meters', '..'])('name a page and bring "%s" back as it was', (id) => {
    expect(routeOf(addressOf('people', id))).toEqual({ page: 'people', parts: [id] });
  });

  it.each(['', '#', '#/', '#/nowhere', '#/nowhere/x', '#/%E0%A4%A'])('that name no page are the dock: %s', (hash) => {
    expect(routeOf(hash).page).toBe('dock');
  });
});
