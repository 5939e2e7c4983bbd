import { describe, expect, it } from 'vitest';
import type { ClockEvent } from '../../src/core/download.ts';
import { instant } from '../../src/core/instant.ts';
import { meterTimeOf, wall } from '../../src/core/meter-time.ts';
import type { ReadingId } from '../../src/core/reading.ts';
import { clockHistory } from '../../src/store/clock-history.ts';
import { clockOffSeconds } from '../../src/store/downloads.ts';
import { tempStore } from './temp-store.ts';
import { download, NOTHING_NEW, putDownload, reading } from './told.ts';

const NOON = Date.UTC(2026, 0, 10, 12, 0, 0); // winter: Lisbon is on UTC
const anchor = (shown: number, resolutionMs: number, from = NOON, to = NOON): ClockEvent => ({
  kind: 'anchor',
  shown: meterTimeOf(wall(shown), resolutionMs),
  from: instant(from),
  to: instant(to),
});

describe('how far off a clock is', () => {
  it.each<[string, readonly ClockEvent[], number | undefined]>([
    ['right to the second', [anchor(NOON, 1000)], 0],
    ['right, read half a second after it turned', [anchor(NOON, 1000, NOON + 400, NOON + 600)], 0],
    ['an hour ahead', [anchor(NOON + 3_600_000, 1000)], 3600],
    ['two seconds behind', [anchor(NOON - 2_000, 1000)], -2],
    ['judged from the middle of the question', [anchor(NOON, 1000, NOON - 10_000, NOON + 4_500)], 3],
    ['judged from the middle of the minute that it shows', [anchor(NOON, 60_000, NOON + 30_000, NOON + 30_000)], 0],
    ['taken from the first time it was seen', [anchor(NOON + 5_000, 1000), anchor(NOON, 1000)], 5],
    ['unknown where it was not set', [{ kind: 'unset', from: instant(NOON), to: instant(NOON) }], undefined],
    ['unknown where it was not seen', [], undefined],
  ])('is %s', (_, clock, off) => {
    expect(clockOffSeconds({ clock, zone: 'Europe/Lisbon' })).toBe(off);
  });

  it('is told against local time, also in summer', () => {
    const july = Date.UTC(2026, 6, 1, 12, 0, 0);
    const right = anchor(july + 3_600_000, 1000, july, july);
    expect(clockOffSeconds({ clock: [right], zone: 'Europe/Lisbon' })).toBe(0);
    expect(clockOffSeconds({ clock: [right], zone: 'Asia/Kolkata' })).toBe(-4.5 * 3600);
  });
});

describe('downloads in the store', () => {
  const events: ClockEvent[] = [
    anchor(NOON, 60_000, NOON + 5, NOON + 65),
    { kind: 'set', asked: wall(NOON + 1), from: instant(NOON + 70), to: instant(NOON + 99), outcome: 'confirmed' },
    { kind: 'unset', from: instant(NOON + 100), to: instant(NOON + 101) },
  ];
  const told = download({ held: 3, lossCount: 1, resetStamp: wall(5), capacity: 200, clock: events });

  it('come back with every fact that was told', () => {
    const store = tempStore();
    const facts = { ...NOTHING_NEW, new: 2, known: 1, vanished: 4, possiblyLost: true, mayPrecede: 3 };
    const { id, meterNo } = putDownload(store, told, facts);
    expect(store.downloads.get(id)).toEqual({
      id: 'D1',
      captureNo: 1,
      ordinal: 0,
      meterNo,
      meterId: 'PA00042',
      meterModel: 'GM-10',
      at: 10_000,
      until: 12_000,
      protocol: 'line',
      profile: 'tlp-generic',
      zone: 'Europe/Lisbon',
      port: 'COM3',
      held: 3,
      lossCount: 1,
      resetStamp: 5,
      complete: true,
      bytes: 400,
      damagedLines: 0,
      retries: 0,
      durationMs: 2_000,
      clockOffS: 30,
      clockSet: true,
      ...facts,
    });
    expect(store.downloads.clockEvents(id)).toEqual(events);
  });

  it('do not say that the clock was set where the meter refused or did not answer', () => {
    const store = tempStore();
    for (const [i, outcome] of (['refused', 'unknown'] as const).entries()) {
      const clock: ClockEvent[] = [{ kind: 'set', asked: wall(1), from: instant(1), to: instant(2), outcome }];
      expect(store.downloads.get(putDownload(store, download({ clock, at: instant(i) })).id)?.clockSet).toBe(false);
    }
  });

  it('are listed oldest first, whatever the order in which they came', () => {
    const store = tempStore();
    for (const at of [300, 100, 200]) putDownload(store, download({ at: instant(at) }));
    putDownload(store, download({ at: instant(150), meter: { id: 'PA00007', model: 'GM-10' } }));
    expect(store.downloads.list().map((d) => d.at)).toEqual([100, 150, 200, 300]);
    expect(store.downloads.list(1).map((d) => d.id)).toEqual(['D2', 'D3', 'D1']);
    expect(store.downloads.newestMoment(1)).toEqual({ at: 300, captureNo: 1, ordinal: 0 });
  });

  it('hand the clock room the tests in their order and the downloads in theirs', () => {
    const store = tempStore();
    const first = putDownload(store, told);
    const second = putDownload(store, download({ at: instant(20_000), until: instant(22_000) }));
    store.readings.add({ ...reading(second, 1, { place: '1' }), earliestDownload: first.id });
    store.readings.add(reading(first, 0, { place: '2', lossCount: 4 }));
    store.downloads.resettle(second.id, { ...NOTHING_NEW, after: 'D2-1' as ReadingId, mayPrecede: 0 });
    const { tests, downloads } = clockHistory(store.db, first.meterNo);
    const stamp = reading(first, 0).record.meterTime;
    expect(tests).toEqual([
      { id: 'D1-2', position: 0, stamp, unset: false, lossCount: 4, earliestDownload: 'D1', toldBy: 12_000 },
      { id: 'D2-1', position: 1, stamp, unset: false, earliestDownload: 'D1', toldBy: 12_000 },
    ]);
    expect(downloads.map((d) => [d.id, d.after, d.mayPrecede, d.clock])).toEqual([
      ['D1', undefined, undefined, events],
      ['D2', 'D2-1', 0, []],
    ]);
  });
});

describe('incidents in the store', () => {
  const incident = (kind: 'power-loss' | 'deleted-on-meter', latest: number) => ({
    kind,
    latest: instant(latest),
    likelyCause: 'batteries',
    explanation: `It happened before ${latest}.`,
  });

  it('are replaced by source and listed by time', () => {
    const store = tempStore();
    const { id, meterNo } = putDownload(store, download());
    store.incidents.add(meterNo, 'settling', [{ ...incident('deleted-on-meter', 200), download: id }]);
    store.incidents.replace(meterNo, 'clock', [
      incident('power-loss', 300),
      { ...incident('power-loss', 100), sizeS: -1.5 },
    ]);
    const times = () => store.incidents.list(meterNo).map((i) => [i.source, i.latest, i.sizeS, i.download]);
    expect(times()).toEqual([
      ['clock', 100, -1.5, undefined],
      ['settling', 200, undefined, id],
      ['clock', 300, undefined, undefined],
    ]);
    store.incidents.replace(meterNo, 'clock', []);
    store.incidents.add(meterNo, 'settling', [incident('deleted-on-meter', 50)]);
    expect(times()).toEqual([
      ['settling', 50, undefined, undefined],
      ['settling', 200, undefined, id],
    ]);
    expect(store.incidents.list()).toHaveLength(2);
  });
});
