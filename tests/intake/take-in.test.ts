import { describe, expect, it } from 'vitest';
import type { Capture } from '../../src/core/capture.ts';
import { instant } from '../../src/core/instant.ts';
import type { ReadingId } from '../../src/core/reading.ts';
import { loadProfiles } from '../../src/intake/profile-library.ts';
import { replayCapture } from '../../src/intake/replay.ts';
import { sightingsOf } from '../../src/intake/sightings.ts';
import type { TakenIn } from '../../src/intake/take-in.ts';
import type { ListedReading } from '../../src/store/readings.ts';
import type { Store } from '../../src/store/store.ts';
import { tempStore } from '../store/temp-store.ts';
import { captureOf, lifeOf, shuffled, stampAt, type ToldTest } from './told-meter.ts';

const SEED = Number(process.env['SEED'] ?? 20260302);
const profiles = loadProfiles('/nowhere');
const context = { now: instant(Date.UTC(2026, 5, 1)), actor: 'test' };
const take = (store: Store, capture: Capture): TakenIn => replayCapture(store, capture, profiles, context);
const all = (store: Store): ListedReading[] => [...store.readings.pages({})].flat();
const T0 = Date.UTC(2026, 0, 10, 9, 0, 0);
const HOUR = 3_600_000;
const story = (n: number): ToldTest[] =>
  Array.from({ length: n }, (_, i) => ({ stamp: stampAt(T0 + i * 24 * HOUR), inr: (2 + i / 10).toFixed(1) }));
const visit = (tests: readonly ToldTest[], day: number, rest: Partial<Parameters<typeof captureOf>[0]> = {}): Capture =>
  captureOf({ at: instant(T0 + day * 24 * HOUR + HOUR), tests, ...rest });

describe('taking in one capture', () => {
  it('stores every test once with its values, its place and a time', () => {
    const store = tempStore();
    const taken = take(store, visit(story(3), 3));
    expect(taken).toMatchObject({ captureNo: 1, already: false });
    expect(taken.downloads).toMatchObject([
      { id: 'D1', meterId: 'PA00042', complete: true, held: 3, new: 3, known: 0, vanished: 0, possiblyLost: false },
    ]);
    expect(all(store).map((r) => [r.id, r.position, r.record.slot, r.record.values[0]?.value, r.shown])).toEqual([
      ['D1-3', 0, 3, '2.0', 'settled'],
      ['D1-2', 1, 2, '2.1', 'settled'],
      ['D1-1', 2, 1, '2.2', 'settled'],
    ]);
    for (const reading of all(store)) {
      expect(reading.placement?.latest).toBeDefined();
      expect(reading.firstDownload).toBe('D1');
    }
  });

  it('finds the clock off by nothing where the meter is right, and by what it is wrong', () => {
    const store = tempStore();
    expect(take(store, visit(story(1), 1)).downloads[0]?.clockOffS).toBe(0);
    const late = visit(story(1), 2);
    const zone = 'Europe/Berlin'; // the meter shows UTC, an hour behind the clocks of this dock
    expect(take(store, { ...late, zone }).downloads[0]?.clockOffS).toBe(-3600);
  });

  it('changes nothing when the same capture comes twice, and says so', () => {
    const store = tempStore();
    take(store, visit(story(3), 3));
    const before = all(store);
    const audit = store.audit.list();
    expect(take(store, visit(story(3), 3))).toMatchObject({ captureNo: 1, already: true, downloads: [{ id: 'D1' }] });
    expect(all(store)).toEqual(before);
    expect(store.audit.list()).toEqual(audit);
  });

  it('keeps the bytes of a capture in which no meter named itself', () => {
    const store = tempStore();
    const { chunks: _, ...header } = visit([], 1);
    const noise = [{ at: instant(T0), dir: 'in' as const, data: new Uint8Array([0xff, 0x00, 0x13]) }];
    expect(take(store, { ...header, chunks: noise })).toEqual({ captureNo: 1, already: false, downloads: [] });
    expect(store.captures.load(1).capture.chunks).toEqual(noise);
    expect(store.captures.unfinished()).toEqual([]);
  });

  it('leaves the rows of known readings untouched when they are told again', () => {
    const store = tempStore();
    const tests = story(5);
    take(store, visit(tests, 5));
    const changes = store.db.statement<{ n: number }>('SELECT total_changes() AS n');
    const readings = all(store);
    const before = changes.get()?.n ?? 0;
    expect(take(store, visit(tests, 6)).downloads).toMatchObject([{ id: 'D2', new: 0, known: 5 }]);
    // One row each: capture twice, download, clock event, memory state, audit.
    expect((changes.get()?.n ?? 0) - before).toBeLessThanOrEqual(7);
    expect(all(store)).toEqual(readings);
  });

  it('marks what a cut download told as provisional and settles it when the memory is read whole', () => {
    const store = tempStore();
    take(store, visit(story(5), 5, { cutAfter: 2 }));
    expect(all(store).map((r) => [r.id, r.shown])).toEqual([
      ['D1-2', 'provisional'],
      ['D1-1', 'provisional'],
    ]);
    take(store, visit(story(5), 6));
    expect(all(store).map((r) => [r.id, r.position, r.shown])).toEqual([
      ['D2-5', 0, 'settled'],
      ['D2-4', 1, 'settled'],
      ['D2-3', 2, 'settled'],
      ['D1-2', 3, 'settled'],
      ['D1-1', 4, 'settled'],
    ]);
  });

  it('tells a test that was deleted on the meter, keeps the reading and notes the incident', () => {
    const store = tempStore();
    const tests = story(5);
    take(store, visit(tests, 5));
    const taken = take(store, visit([...tests.slice(0, 2), ...tests.slice(3)], 6));
    expect(taken.downloads).toMatchObject([{ vanished: 1, new: 0, known: 4 }]);
    expect(all(store)).toHaveLength(5);
    expect(all(store)[2]).toMatchObject({ id: 'D1-3', gone: 'deleted' });
    expect(store.incidents.list().filter((i) => i.source === 'settling')).toMatchObject([
      { kind: 'deleted-on-meter', download: 'D2', meterId: 'PA00042' },
    ]);
  });

  it('writes nothing at all where one step fails: the capture waits to be taken in', () => {
    const store = tempStore();
    store.db.script(
      "CREATE TRIGGER no_values BEFORE INSERT ON reading_value BEGIN SELECT RAISE(ABORT, 'not now'); END",
    );
    expect(() => take(store, visit(story(3), 3))).toThrow(/not now/);
    expect([all(store), store.downloads.list(), store.meters.list()]).toEqual([[], [], []]);
    expect(store.captures.unfinished()).toMatchObject([{ captureNo: 1, sealed: true }]);
    store.db.script('DROP TRIGGER no_values');
    expect(take(store, visit(story(3), 3))).toMatchObject({ captureNo: 1, already: false });
    expect(all(store)).toHaveLength(3);
  });
});

describe('a capture that comes late', () => {
  const tests = story(8);
  const early = visit(tests.slice(0, 4), 4);
  const later = visit(tests, 8);

  it('keeps the ids of what was there, wherever it was told first', () => {
    const store = tempStore();
    take(store, later);
    const ids = all(store).map((r) => r.id);
    const taken = take(store, early);
    expect(taken.downloads).toMatchObject([{ id: 'D2', new: 4, known: 0 }]);
    expect(all(store).map((r) => r.id)).toEqual(ids);
    expect(store.downloads.get('D1' as never)).toMatchObject({ new: 4, known: 4 });
  });

  it('knows from then on that those tests were made before the early download', () => {
    const store = tempStore();
    take(store, later);
    take(store, early);
    expect(all(store).map((r) => r.earliestDownload)).toEqual(['D2', 'D2', 'D2', 'D2', 'D1', 'D1', 'D1', 'D1']);
    expect(all(store).map((r) => r.firstDownload)).toEqual(Array(8).fill('D1'));
  });

  it('puts tests that only the early download told in front, and moves the others back', () => {
    const store = tempStore();
    take(store, visit(tests.slice(4), 8, { capacity: 4 }));
    take(store, visit(tests.slice(0, 4), 4, { capacity: 4 }));
    expect(all(store).map((r) => [r.position, r.id, r.record.values[0]?.value])).toEqual([
      [0, 'D2-4', '2.0'],
      [1, 'D2-3', '2.1'],
      [2, 'D2-2', '2.2'],
      [3, 'D2-1', '2.3'],
      [4, 'D1-4', '2.4'],
      [5, 'D1-3', '2.5'],
      [6, 'D1-2', '2.6'],
      [7, 'D1-1', '2.7'],
    ]);
  });

  it('lets every telling of a reading be found', () => {
    const store = tempStore();
    take(store, later);
    take(store, early);
    const of = (id: string) => sightingsOf(store, profiles, id as ReadingId).map((s) => [s.download, s.record.place]);
    expect(of('D1-8')).toEqual([
      ['D2', '4'],
      ['D1', '8'],
    ]);
    expect(of('D1-1')).toEqual([['D1', '1']]);
    expect(() => of('D9-1')).toThrow(/no reading D9-1/);
  });
});

describe(`captures in any order (SEED=${SEED})`, () => {
  const cases = [1, 2, 3, 4, 5, 6].map((n) => ({ n, life: lifeOf(SEED + n, 9, { runs: n % 2 === 0 }) }));

  it.each(cases)('life $n: nothing lost, nothing doubled, order right', ({ n, life }) => {
    const store = tempStore();
    for (const capture of shuffled(life.captures, SEED + n)) take(store, capture);
    expect(all(store).map((r) => [r.record.meterTimeText, r.record.values[0]?.value])).toEqual(
      life.told.map((t) => [t.stamp, t.inr]),
    );
    expect(all(store).map((r) => r.position)).toEqual(life.told.map((_, i) => i));
  });

  it.each(cases)('life $n: no id ever changes while captures come', ({ n, life }) => {
    const store = tempStore();
    const idOf = new Map<string, string>();
    for (const capture of shuffled(life.captures, SEED + n)) {
      take(store, capture);
      for (const reading of all(store)) {
        const key = `${reading.record.meterTimeText} ${reading.record.values[0]?.value}`;
        expect(idOf.get(key) ?? reading.id).toBe(reading.id);
        idOf.set(key, reading.id);
      }
    }
    expect(idOf.size).toBe(life.told.length);
  });

  it.each(cases)('life $n: all but the names is as if the captures had come in time', ({ n, life }) => {
    const inTime = tempStore();
    for (const capture of life.captures) take(inTime, capture);
    const mixed = tempStore();
    for (const capture of shuffled(life.captures, SEED + n)) take(mixed, capture);
    const facts = (store: Store) => ({
      readings: all(store).map((r) => [r.position, r.record.meterTimeText, r.record.values, r.shown, r.gone]),
      downloads: store.downloads.list().map((d) => [d.at, d.new, d.known, d.vanished, d.possiblyLost, d.mayPrecede]),
      incidents: store.incidents.list().map((i) => [i.kind, i.earliest, i.latest, i.explanation]),
    });
    expect(facts(mixed)).toEqual(facts(inTime));
  });
});
