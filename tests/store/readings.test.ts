import { describe, expect, it } from 'vitest';
import { instant } from '../../src/core/instant.ts';
import type { Placement } from '../../src/core/placement.ts';
import type { ReadingId } from '../../src/core/reading.ts';
import type { ReadingFilter } from '../../src/store/readings.ts';
import { statusOf } from '../../src/store/status.ts';
import type { Store } from '../../src/store/store.ts';
import { tempStore } from './temp-store.ts';
import { download, putDownload, reading } from './told.ts';

const placed = (takenAt: number): Placement => ({
  takenAt: instant(takenAt),
  earliest: instant(takenAt - 5),
  latest: instant(takenAt + 5),
  basis: 'anchored',
  reason: 'Its clock was seen once.',
  flags: ['time-repeated-hour'],
});
const list = (store: Store, filter: ReadingFilter = {}, size?: number): ReadingId[] =>
  [...store.readings.pages(filter, size)].flat().map((r) => r.id);

/** Two meters; four readings of the first (positions against the order of ids), one of the second. */
function twoMeters(): Store {
  const store = tempStore();
  const a = putDownload(store, download());
  const b = putDownload(store, download({ meter: { id: 'PA00007', model: 'GM-10' }, at: instant(20_000) }));
  store.readings.add(reading(a, 3, { place: '1', patientId: 'P-007' }));
  store.readings.add(reading(a, 2, { place: '2', kind: 'control' }));
  store.readings.add(reading(a, 1, { place: '3', patientId: 'P-007' }));
  store.readings.add(reading(a, 0, { place: '4' }));
  store.readings.add(reading(b, 0, { place: '1', patientId: 'P-007' }));
  store.placements.add('D1-1' as ReadingId, placed(4_000), a.id);
  store.placements.add('D1-3' as ReadingId, placed(2_000), a.id);
  store.placements.add('D2-1' as ReadingId, placed(3_000), b.id);
  return store;
}

describe('readings in the store', () => {
  it('come back with every fact that was told', () => {
    const store = tempStore();
    const from = putDownload(store, download());
    const full = reading(from, 0, {
      runNumber: 210,
      lot: '1200003',
      lotExpiry: '2027-01',
      operator: 'rosa',
      patientId: 'P-007',
      flags: ['lo', 'single-read'],
      lossCount: 2,
      extra: { 'x.temp': '21' },
      values: [
        { analyte: 'INR', value: '>8.0', unit: '{INR}' },
        { analyte: 'PT', value: '96.0', unit: 's' },
      ],
    });
    store.readings.add(full);
    expect(store.readings.ofMeter(from.meterNo)).toEqual([full]);
  });

  it('come back without the facts that were not told, as an error test whose clock was not set', () => {
    const store = tempStore();
    const from = putDownload(store, download());
    const { slot: _slot, meterTime: _time, ...rest } = reading(from, 0).record;
    const bare = {
      ...reading(from, 0),
      record: { ...rest, meterTimeText: '', kind: 'error' as const, errorCode: 'E-5', values: [] },
    };
    store.readings.add(bare);
    expect(store.readings.ofMeter(from.meterNo)).toEqual([bare]);
  });

  it.each([1, 2, 3, 1000])('are listed by meter, then in the order of the tests, in pages of %i', (size) => {
    const store = twoMeters();
    expect(list(store, {}, size)).toEqual(['D2-1', 'D1-4', 'D1-3', 'D1-2', 'D1-1']);
    expect([...store.readings.pages({}, size)].every((page) => page.length <= size)).toBe(true);
  });

  it.each<[string, ReadingFilter, string[]]>([
    ['a meter', { meter: 'PA00042' }, ['D1-4', 'D1-3', 'D1-2', 'D1-1']],
    ['a patient', { patient: 'P-007' }, ['D2-1', 'D1-3', 'D1-1']],
    ['a kind', { kind: 'control' }, ['D1-2']],
    ['a beginning, which is included', { since: instant(3_000) }, ['D2-1', 'D1-1']],
    ['an end, which is not', { until: instant(3_000) }, ['D1-3']],
    [
      'all of these',
      { meter: 'PA00042', patient: 'P-007', kind: 'patient', since: instant(1), until: instant(4_000) },
      ['D1-3'],
    ],
    ['something that is not there', { meter: "PA'; DROP TABLE reading; --" }, []],
  ])('are chosen by %s', (_, filter, ids) => {
    expect(list(twoMeters(), filter)).toEqual(ids);
  });

  it('are each listed once, though a reading is put in front while they are listed', () => {
    const store = twoMeters();
    const pages = store.readings.pages({}, 2);
    const seen = [...(pages.next().value ?? [])].map((r) => r.id);
    for (const r of store.readings.ofMeter(1)) store.readings.move(r.id, r.position + 1);
    store.readings.add(reading({ id: 'D1' as never, meterNo: 1 }, 0, { place: '9' }));
    for (const page of pages) seen.push(...page.map((r) => r.id));
    expect(seen).toEqual(['D2-1', 'D1-4', 'D1-3', 'D1-2', 'D1-1']);
  });

  it('show the newest version of their time; the older ones stay', () => {
    const store = twoMeters();
    expect(store.placements.add('D1-1' as ReadingId, placed(4_100), 'D2' as never)).toBe(2);
    expect(store.readings.get('D1-1' as ReadingId)?.placement).toEqual({ ...placed(4_100), version: 2 });
    expect(store.placements.versions('D1-1' as ReadingId)).toEqual([
      { ...placed(4_000), version: 1, madeBy: 'D1' },
      { ...placed(4_100), version: 2, madeBy: 'D2' },
    ]);
    expect([...store.placements.newest(1)].map(([id, p]) => `${id} ${p.version}`).sort()).toEqual(['D1-1 2', 'D1-3 1']);
  });

  it('carry the flags of the meter and of their time, each once', () => {
    const store = tempStore();
    const from = putDownload(store, download());
    store.readings.add(reading(from, 0, { flags: ['lo', 'time-repeated-hour'] }));
    store.placements.add('D1-3' as ReadingId, placed(1), from.id);
    expect(store.readings.get('D1-3' as ReadingId)?.flags).toEqual(['lo', 'time-repeated-hour']);
  });

  it('refuse a second reading under the same id, and one of a download that is not there', () => {
    const store = tempStore();
    const from = putDownload(store, download());
    store.readings.add(reading(from, 0));
    expect(() => store.readings.add(reading(from, 1))).toThrow(/UNIQUE/);
    expect(() => store.readings.add(reading({ ...from, id: 'D9' as never }, 1))).toThrow(/FOREIGN KEY/);
  });

  it('take their values and times with them when they are dropped', () => {
    const store = twoMeters();
    store.readings.drop('D1-1' as ReadingId);
    for (const table of ['reading_value', 'placement'])
      expect(store.db.statement(`SELECT * FROM ${table} WHERE reading_id = 'D1-1'`).all()).toEqual([]);
  });
});

describe('the status of a reading', () => {
  it.each([
    ['settled', [], 'settled'],
    ['settled', ['lo', 'rng', 'single-read'], 'settled'],
    ['provisional', ['lo'], 'provisional'],
    ['settled', ['lo', 'conflict'], 'held'],
    ['provisional', ['value-unreadable'], 'held'],
    ['settled', ['readings-differ'], 'held'],
  ] as const)('%s with flags %j shows as %s', (status, flags, shown) => {
    expect(statusOf(status, flags)).toBe(shown);
  });
});
