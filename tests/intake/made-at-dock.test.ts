import { describe, expect, it } from 'vitest';
import type { Capture, CaptureChunk } from '../../src/core/capture.ts';
import { instant } from '../../src/core/instant.ts';
import { loadProfiles } from '../../src/intake/profile-library.ts';
import { replayCapture } from '../../src/intake/replay.ts';
import type { ListedReading } from '../../src/store/readings.ts';
import type { Store } from '../../src/store/store.ts';
import { tempStore } from '../store/temp-store.ts';
import { slowCrc, tlpLine } from '../support/tiny-tlp.ts';
import { captureOf, stampAt } from './told-meter.ts';

const profiles = loadProfiles('/nowhere');
const context = { now: instant(Date.UTC(2026, 5, 1)), actor: 'test' };
const take = (store: Store, capture: Capture): void => void replayCapture(store, capture, profiles, context);
const all = (store: Store): ListedReading[] => [...store.readings.pages({})].flat();

const DAY = 86_400_000;
const T0 = Date.UTC(2026, 0, 20, 9, 0, 0);
/** The meter's clock is so much behind when it is docked. */
const BEHIND = 70 * 60_000;
const shows = (at: number): string => stampAt(at - BEHIND);
const old = { stamp: shows(T0 - 2 * DAY), inr: '2.4' };

/** One line of a conversation, so many ms after it began. */
type Said = readonly [ms: number, dir: 'in' | 'out', body: string];

function captureOfTalk(said: readonly Said[]): Capture {
  const chunks = said.map(
    ([ms, dir, body]): CaptureChunk => ({
      at: instant(T0 + ms),
      dir,
      data: new TextEncoder().encode(tlpLine(body)),
    }),
  );
  const header = { port: 'tcp://dock.example:4001', profile: 'tlp-generic', zone: 'Europe/Lisbon' };
  return { ...header, openedAt: instant(T0), chunks, closedAt: instant(T0 + 20_000) };
}

const meter = (held: number, clock: string): string =>
  `METER v=1 id=PA00042 model=GM-10 fw=1.0 cap=200 held=${held} order=newest clock=${clock}`;
const rec = (slot: number, stamp: string, inr: string): string =>
  `REC i=${slot} t=${stamp} k=p a=INR v=${inr} u={INR} lot=1200003`;
const end = (...recs: readonly string[]): string =>
  `END n=${recs.length} x=${slowCrc(recs.map((r) => `${r}\n`).join(''))}`;
const fresh = (ms: number): Said => [ms, 'in', rec(1, shows(T0 + ms - 1500), '3.1').replace('REC', 'NEW')];
const setting: readonly Said[] = [
  [12_000, 'out', `SET t=${stampAt(T0 + 12_000)}`],
  [12_060, 'in', `CLOCK t=${stampAt(T0 + 12_000)}`],
  [12_100, 'out', 'BYE'],
  [12_160, 'in', 'BYE'],
];
const hello: readonly Said[] = [
  [0, 'out', 'HELLO v=1'],
  [60, 'in', meter(1, shows(T0 + 60))],
  [100, 'out', 'READ'],
];
const told = rec(1, old.stamp, old.inr);

const TALKS: readonly { readonly name: string; readonly madeAt: number; readonly said: readonly Said[] }[] = [
  {
    name: 'between the read and the setting',
    madeAt: T0 + 6500,
    said: [...hello, [200, 'in', told], [260, 'in', end(told)], fresh(8000), ...setting],
  },
  {
    name: 'while it was read, and told again by the next answer',
    madeAt: T0 + 2500,
    said: [
      ...hello,
      fresh(4000),
      [4100, 'in', told],
      [4160, 'in', end(told)],
      [4200, 'out', 'READ'],
      [4300, 'in', rec(1, shows(T0 + 2500), '3.1')],
      [4360, 'in', rec(2, old.stamp, old.inr)],
      [4420, 'in', end(rec(1, shows(T0 + 2500), '3.1'), rec(2, old.stamp, old.inr))],
      ...setting,
    ],
  },
  {
    name: 'between the read and the end, and the clock is left as it is',
    madeAt: T0 + 6500,
    said: [...hello, [200, 'in', told], [260, 'in', end(told)], fresh(8000), ...setting.slice(2)],
  },
];

describe.each(TALKS)('a test made at the dock $name', ({ madeAt, said }) => {
  const clockOffMs = said.some(([, , body]) => body.startsWith('SET')) ? 0 : -BEHIND;
  const tests = [old, { stamp: shows(madeAt), inr: '3.1' }];
  const later = captureOf({ at: instant(T0 + 9 * DAY), tests, clockOffMs });

  it('stands where it was made: nobody has changed the clock', () => {
    const store = tempStore();
    take(store, captureOf({ at: instant(T0 - DAY), tests: [old], clockOffMs: -BEHIND }));
    take(store, captureOfTalk(said));
    for (const round of ['then', 'after the next visit']) {
      const made = all(store).at(-1);
      expect(made?.record.values[0]?.value, round).toBe('3.1');
      expect(made?.placement?.earliest, round).toBeLessThanOrEqual(madeAt);
      expect(made?.placement?.latest, round).toBeGreaterThanOrEqual(madeAt);
      expect((made?.placement?.latest ?? 0) - (made?.placement?.earliest ?? 0), round).toBeLessThan(3000);
      expect(made?.placement?.basis, round).not.toBe('bounded');
      expect(store.incidents.list(), round).toEqual([]);
      take(store, later);
    }
  });

  it('has the same time whether its download is placed with the others or from the one before on', () => {
    const [oneByOne, late] = [tempStore(), tempStore()];
    const captures = [
      ...[30, 20, 10, 1].map((days) =>
        captureOf({ at: instant(T0 - days * DAY), tests: [old].slice(days > 2 ? 1 : 0), clockOffMs: -BEHIND }),
      ),
      captureOfTalk(said),
      later,
      captureOf({ at: instant(T0 + 20 * DAY), tests, clockOffMs }),
    ];
    for (const capture of captures) take(oneByOne, capture);
    for (const capture of [...captures].reverse()) take(late, capture);
    const times = (store: Store): unknown =>
      all(store).map((r) => [
        r.record.values[0]?.value,
        r.placement?.takenAt,
        r.placement?.earliest,
        r.placement?.latest,
      ]);
    expect(times(oneByOne)).toEqual(times(late));
  });
});
