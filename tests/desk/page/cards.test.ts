/** What waits as cards: readings that one look answers for stand together, and each question is one sentence. */
import { describe, expect, it } from 'vitest';
import { HOLD_CODES, type HoldCode } from '../../../src/clinic/holds/hold.ts';
import { instant } from '../../../src/core/instant.ts';
import type { WaitingItem } from '../../../src/desk/api/waiting.ts';
import { makeFormat } from '../../../src/desk/page/format.ts';
import { answersOf, cardsOf, meterFirst, questionOf, usualReasons } from '../../../src/desk/page/waiting/cards.ts';
import { evidenceOf } from '../../../src/desk/page/waiting/evidence.ts';
import { de } from '../../../src/desk/page/words/de.ts';
import { en } from '../../../src/desk/page/words/en.ts';

const AT = Date.UTC(2026, 2, 3, 9, 52);
const DAY = 86_400_000;
const NOW = (): number => AT + DAY;
const LANGUAGES = [
  ['en', en, makeFormat('en', 'Europe/Lisbon', en, NOW)],
  ['de', de, makeFormat('de', 'Europe/Lisbon', de, NOW)],
] as const;

/** A reading that waits. */
function item(codes: readonly HoldCode[], more: Partial<WaitingItem> = {}): WaitingItem {
  return {
    readingId: 'D17-3',
    meterId: 'PA-C001',
    model: 'GM-40',
    kind: 'patient',
    values: [{ analyte: 'INR', value: '3.4', unit: '{INR}' }],
    isCritical: false,
    time: { at: instant(AT), earliest: instant(AT - 60_000), latest: instant(AT + 60_000) },
    lot: '1200003',
    lotExpiry: '2026-02-28',
    holds: codes.map((code) => ({ code, sentence: code })),
    evidence: { appointments: [], lastValues: [], incidents: [], holders: [] },
    ...more,
  };
}

describe('cards', () => {
  it('hold readings of the same meter, person and reasons together, wherever they stand', () => {
    const wide = (readingId: string, days: number): WaitingItem =>
      item(['time-wide'], { readingId, time: { at: instant(AT + days * DAY) } });
    const cards = cardsOf([wide('a', 0), item(['lot-expired'], { readingId: 'x' }), wide('b', 8), wide('c', 4)]);
    expect(cards.map((c) => c.items.map((i) => i.readingId))).toEqual([['a', 'b', 'c'], ['x']]);
    const [first] = cards;
    if (!first) throw new Error('no card');
    expect(questionOf(first, en, LANGUAGES[0][2])).toBe(
      'Time not sure: 3 readings (between 3 March 2026 and 11 March 2026, meter PA-C001).',
    );
    expect(questionOf(first, de, LANGUAGES[1][2])).toBe(
      'Zeit nicht sicher: 3 Messungen (zwischen 3. März 2026 und 11. März 2026, Gerät PA-C001).',
    );
  });

  it.each(['off-course', 'implausible', 'off-scale', 'values-disagree', 'conflict'] as const)(
    'never hold together what must be looked at one by one: %s',
    (code) => {
      expect(cardsOf([item([code], { readingId: 'a' }), item([code], { readingId: 'b' })])).toHaveLength(2);
    },
  );

  it('are taken apart on wish, and only those that were', () => {
    const wide = (readingId: string): WaitingItem => item(['time-wide'], { readingId });
    const cards = cardsOf([wide('a'), wide('b'), wide('c'), wide('d')], ['a', 'c']);
    expect(cards.map((c) => c.items.map((i) => i.readingId))).toEqual([['a'], ['b', 'd'], ['c']]);
  });

  it('of the meter that was just read come first, but after critical values, else in their order', () => {
    const of = (readingId: string, meterId: string, isCritical = false): WaitingItem =>
      item(['off-course'], { readingId, meterId, isCritical });
    const cards = cardsOf([of('a', 'X', true), of('b', 'X'), of('c', 'Y'), of('d', 'X'), of('e', 'Y')]);
    const order = (meterId?: string): string[] => meterFirst(cards, meterId).map((c) => c.key);
    expect(order('Y')).toEqual(['a', 'c', 'e', 'b', 'd']);
    expect(order()).toEqual(['a', 'b', 'c', 'd', 'e']);
  });

  it('leave a critical value alone, and keep people and meters apart', () => {
    expect(cardsOf([item(['time-wide'], { isCritical: true }), item(['time-wide'])])).toHaveLength(2);
    const of = (id: string): WaitingItem => item(['time-wide'], { person: { id } });
    expect(cardsOf([of('A'), of('B')])).toHaveLength(2);
    expect(cardsOf([item(['time-wide'], { meterId: 'X' }), item(['time-wide'], { meterId: 'Y' })])).toHaveLength(2);
  });
});

describe('a question', () => {
  it.each(HOLD_CODES)('of %s is one sentence in each language, with the value, and at most three answers', (code) => {
    const asked = item([code], { proposed: { id: 'PA-10014', name: 'Tom Arkwright' } });
    const [card] = cardsOf([asked]);
    if (!card) throw new Error('no card');
    for (const [, words, format] of LANGUAGES) {
      const says = questionOf(card, words, format);
      expect(says).toContain(format.decimal('3.4'));
      expect(says).toMatch(/[.?]$/);
      expect(says).not.toMatch(/undefined|\.\.|\?\?/);
      expect(usualReasons(card, answersOf(card)[0] ?? 'release', words).length).toBeGreaterThan(0);
    }
    expect(answersOf(card)).toHaveLength(2); // and "later"
  });

  it('of an unconfirmed person names the person, and Enter confirms', () => {
    const [card] = cardsOf([item(['person-unconfirmed'], { proposed: { id: 'PA-10014', name: 'Tom Arkwright' } })]);
    if (!card) throw new Error('no card');
    expect(questionOf(card, en, LANGUAGES[0][2])).toBe(
      'Does INR 3.4 (yesterday, 09:52, meter PA-C001) belong to Tom Arkwright?',
    );
    expect(questionOf(card, de, LANGUAGES[1][2])).toBe(
      'Gehört INR 3,4 (gestern, 09:52, Gerät PA-C001) zu Tom Arkwright?',
    );
    expect(answersOf(card)).toEqual(['confirm', 'whose']);
  });

  it('of an unknown person cannot be answered by a release: it has to be said whose it is', () => {
    const [card] = cardsOf([item(['person-unknown', 'time-wide'])]);
    expect(card && answersOf(card)).toEqual(['whose', 'strike-out']);
  });

  it('never lets a control test or an error test pass for a value', () => {
    const [card] = cardsOf([item(['read-once'], { kind: 'error', values: [] })]);
    expect(card && questionOf(card, en, LANGUAGES[0][2])).toContain('error test');
  });
});

describe('evidence', () => {
  it('tells who was due, what was keyed, the last values and the target, in the language of the page', () => {
    const asked = item(['person-unconfirmed', 'time-wide'], {
      keyedPatient: 'PA-10041',
      meterTime: '2000-01-03T10:02:00',
      time: { at: instant(AT), earliest: instant(AT - DAY), latest: instant(AT + DAY) },
      evidence: {
        appointments: [{ id: 'PA-10014', name: 'Tom Arkwright', at: AT - 7 * 60_000 }],
        lastValues: [
          { at: AT - 14 * DAY, value: 8, beyond: '>' },
          { at: AT - 7 * DAY, value: 2.6 },
        ],
        target: { low: 2, high: 3 },
        incidents: [{ kind: 'power-loss', earliest: AT - 9 * DAY, latest: AT - 8 * DAY, explanation: 'it' }],
        holders: [{ id: 'PA-10022', from: AT - 30 * DAY, to: AT - 10 * DAY }],
      },
    });
    const said = evidenceOf(asked, en, LANGUAGES[0][2]).join('\n');
    for (const part of [
      'Keyed into the meter: PA-10041.',
      'Appointments around then: Tom Arkwright at 09:45.',
      'The meter was with PA-10022 from',
      'Last values: > 8.0 (17 Feb), 2.6 (24 Feb).',
      'Target 2.0 to 3.0.',
      'The meter showed 2000-01-03 10:02:00.',
      'It lost its power, and its clock with it.',
      'Also: its time is not known well enough.',
    ])
      expect(said).toContain(part);
    expect(evidenceOf(asked, de, LANGUAGES[1][2]).join('\n')).toContain(
      'Termine um diese Zeit: Tom Arkwright um 09:45.',
    );
  });
});
