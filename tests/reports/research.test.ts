/** The table for research: nothing in it leads to a person, and time in range can be reckoned again from it. */
import { parse } from 'csv-parse/sync';
import { describe, expect, it } from 'vitest';
import { courseOf } from '../../src/clinic/course/course-of.ts';
import { type Instant, instant } from '../../src/core/instant.ts';
import { localDay } from '../../src/core/local-words.ts';
import { zoneOf } from '../../src/core/zone.ts';
import { pseudonym } from '../../src/outlets/disguise.ts';
import { type RESEARCH_COLUMNS, researchPieces } from '../../src/outlets/research.ts';
import type { Store } from '../../src/store/store.ts';
import { seedOr } from '../support/seed.ts';
import { FILLED_NOW, filledStore } from './filled.ts';
import { seededStore, ZONE } from './seeded.ts';

const SEED = seedOr(71);
const DAY = 86_400_000;
type Row = Record<(typeof RESEARCH_COLUMNS)[number], string>;

const textOf = (store: Store, key = 'a key'): string =>
  [...researchPieces(store, { key, zone: ZONE })].map(({ text }) => text).join('');
const rowsOf = (text: string): Row[] => parse(text, { columns: true }) as Row[];

/** Time in range by the first rule set, or the word for why there is none. */
const fractionOf = (course: ReturnType<typeof courseOf>): number | string => {
  const [figure] = course.timeInRange;
  return figure?.kind === 'known' ? figure.fraction : 'none';
};

describe('the table for research', () => {
  it(`lets everybody's time in range be reckoned again (SEED=${SEED})`, () => {
    const store = filledStore(SEED, 8, 60);
    const rows = rowsOf(textOf(store));
    for (const { patientNo, id } of store.patients.list()) {
      const original = courseOf({
        points: store.judged.list({ patientNo, kind: 'patient', status: 'settled' }).map((j) => ({
          id: j.reading,
          time: { at: j.takenAt ?? instant(0) },
          value: j.value ?? 0,
        })),
        targets: store.patients
          .targets(patientNo)
          .map(({ from, low, high }) => ({ from, low: Number(low), high: Number(high) })),
        now: instant(FILLED_NOW),
        localDate: (at: Instant) => localDay(at, zoneOf(ZONE)),
      });
      const own = rows.filter((r) => r.person === pseudonym('a key', 'person', id));
      const at = (r: Row) => instant(Date.UTC(2000, 0, 1) + Math.round(Number(r.elapsed_days) * DAY));
      const dates = new Map(own.map((r) => [at(r), new Date(Date.UTC(2000, 0, 1 + Number(r.day))).toISOString()]));
      const again = courseOf({
        points: own
          .filter((r) => r.kind === 'test')
          .map((r, i) => ({ id: String(i), time: { at: at(r) }, value: Number(r.value) })),
        targets: own
          .filter((r) => r.kind === 'target')
          .map((r) => ({ from: at(r), low: Number(r.low), high: Number(r.high) })),
        now: instant(Date.UTC(2003, 0, 1)),
        localDate: (moment: Instant) => (dates.get(moment) ?? new Date(moment).toISOString()).slice(0, 10),
      });
      expect(again.tests.length).toBe(original.tests.length);
      expect(fractionOf(original)).toBeTypeOf('number');
      expect(Number(fractionOf(again))).toBeCloseTo(Number(fractionOf(original)), 4);
    }
  });

  it('holds no name, id, serial number, lot, note, operator or date', () => {
    const store = seededStore();
    const text = textOf(store) + textOf(filledStore(SEED, 3, 20));
    expect(rowsOf(textOf(store)).filter((r) => r.kind === 'test').length).toBeGreaterThan(10);
    expect(text).not.toMatch(/ALDER|Calloway|PA0\d|1200003|a note|Tamsin|fibrillation|GM-/);
    expect(text).not.toMatch(/\d{4}-\d{2}|\d{13}|1957/);
  });

  it('has one year a person, so that no turn of the year is seen, and no target from before the first test', () => {
    const rows = rowsOf(textOf(filledStore(SEED, 5, 60)));
    for (const person of new Set(rows.map((r) => r.person))) {
      const own = rows.filter((r) => r.person === person);
      expect(new Set(own.map((r) => r.first_year)).size).toBe(1);
      expect(Math.min(...own.map((r) => Number(r.elapsed_days)))).toBe(0);
      expect(own.filter((r) => r.kind === 'target').map((r) => r.day)[0]).toBe('0');
    }
  });

  it('pools ages over 89', () => {
    const store = filledStore(SEED, 3, 30);
    const ages = (years: readonly number[]): string[] => {
      for (const [i, year] of years.entries())
        store.db.statement('UPDATE patient SET birth_year = ? WHERE patient_no = ?').run(year, i + 1);
      return [...new Set(rowsOf(textOf(store)).map((r) => r.age))].sort();
    };
    // The newest tests are of 2026, or of the last days of 2025.
    expect(ages([1900, 1920, 1930])).toEqual(['90']);
    expect(ages([1960, 1960, 1960])).toEqual(['66']);
  });

  it('leaves out what waits and what was struck out', () => {
    const store = filledStore(SEED, 2, 40);
    const clear = store.judged.list({ status: 'settled' }).length;
    expect(clear).toBeLessThan(store.judged.list({}).length);
    expect(rowsOf(textOf(store)).filter((r) => r.kind !== 'target').length).toBe(clear);
  });

  it('has the same pseudonyms under the same key, and others under another', () => {
    const store = filledStore(SEED, 4, 10);
    const people = (key: string) => new Set(rowsOf(textOf(store, key)).map((r) => r.person));
    expect(people('one')).toEqual(people('one'));
    expect([...people('one')].filter((p) => people('two').has(p))).toEqual([]);
    expect(people('one').size).toBe(4);
  });
});
