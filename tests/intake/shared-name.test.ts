/** Two meters that say the same serial number, docked in turn, through the whole intake. */
import { describe, expect, it } from 'vitest';
import type { Capture } from '../../src/core/capture.ts';
import { instant } from '../../src/core/instant.ts';
import { readMemoryState, writeMemoryState } from '../../src/intake/memory-json.ts';
import { placeWhole } from '../../src/intake/placing.ts';
import { loadProfiles } from '../../src/intake/profile-library.ts';
import { rebuild } from '../../src/intake/rebuild.ts';
import { replayCapture } from '../../src/intake/replay.ts';
import type { Store } from '../../src/store/store.ts';
import { tempStore } from '../store/temp-store.ts';
import { numbersFrom } from '../support/numbers.ts';
import { captureOf, shuffled, stampAt, type ToldTest } from './told-meter.ts';

const SEED = Number(process.env['SEED'] ?? 20260302);
const profiles = loadProfiles('/nowhere');
const context = { now: instant(Date.UTC(2026, 5, 1)), actor: 'test' };
const HOUR = 3_600_000;
const DAY = 24 * HOUR;

/** Visits A, B, A, B …; the clock of B is 5 hours and 20 minutes slow. `cuts`: every third visit from the fourth on. */
function visits(count: number, cuts = false) {
  const chance = numbersFrom(SEED);
  const made: { meter: 0 | 1; at: number; test: ToldTest }[] = [];
  const off = [0, -(5 * HOUR + 20 * 60_000)] as const;
  const captures: Capture[] = [];
  let now = Date.UTC(2026, 0, 5, 9);
  for (let v = 0; v < count; v++) {
    for (let n = 0; n < 6; n++) {
      now += Math.floor(chance() * 12 * HOUR) + 60_000;
      const meter = chance() < 0.5 ? 0 : 1;
      const inr = (1.5 + Math.floor(chance() * 30) / 10).toFixed(1);
      made.push({ meter, at: now, test: { stamp: stampAt(now + off[meter]), inr } });
    }
    now += DAY;
    const meter = v % 2 === 0 ? 0 : 1;
    const tests = made.filter((one) => one.meter === meter).map((one) => one.test);
    const isCut = cuts && v > 2 && v % 3 === 0;
    captures.push(
      captureOf({ at: instant(now), tests, clockOffMs: off[meter], ...(isCut ? { cutAfter: tests.length - 2 } : {}) }),
    );
  }
  return { captures, made };
}

function filled(captures: readonly Capture[]): Store {
  const store = tempStore();
  for (const capture of captures) replayCapture(store, capture, profiles, context);
  return store;
}

const listed = (store: Store) => [...store.readings.pages({})].flat();
const keyOf = (test: ToldTest): string => `${test.stamp} ${test.inr}`;

describe(`two meters of one serial number, docked in turn (SEED=${SEED})`, () => {
  const { captures, made } = visits(10, true);
  const told = made.filter(({ meter, at }) => at < (captures.filter((_, v) => v % 2 === meter).at(-1)?.openedAt ?? 0));

  it('have every test once, held, in the order in which each meter made them', () => {
    const readings = listed(filled(captures));
    expect(readings.map((r) => `${r.record.meterTimeText} ${r.record.values[0]?.value}`).sort()).toEqual(
      told.map(({ test }) => keyOf(test)).sort(),
    );
    expect(readings.map((r) => r.shown)).toEqual(readings.map(() => 'held'));
    expect(readings.map((r) => r.gone)).toEqual(readings.map(() => undefined));
    for (const meter of [0, 1]) {
      const own = told.filter((one) => one.meter === meter).map(({ test }) => test.stamp);
      const stamps = readings.map((r) => r.record.meterTimeText).filter((stamp) => own.includes(stamp));
      expect(stamps).toEqual(own);
    }
  });

  it('have each its own clock: every true time lies within its bounds, which are minutes wide', () => {
    const readings = listed(filled(captures));
    const truth = new Map(made.map(({ at, test }) => [keyOf(test), at]));
    for (const { id, record, placement } of readings) {
      const at = truth.get(`${record.meterTimeText} ${record.values[0]?.value}`) ?? Number.NaN;
      expect({ id, isWithin: (placement?.earliest ?? at + 1) <= at && at <= (placement?.latest ?? at - 1) }).toEqual({
        id,
        isWithin: true,
      });
    }
    const widths = readings.slice(0, -20).map(({ placement: p }) => (p?.latest ?? 0) - (p?.earliest ?? 0));
    expect(Math.max(...widths)).toBeLessThan(HOUR);
  });

  it('are said to be two, once and in plain words, and their clocks are shown apart', () => {
    const store = filled(captures);
    const said = store.incidents.list().filter((incident) => incident.kind === 'identity-shared');
    expect(said).toMatchObject([{ source: 'settling', download: 'D3' }]);
    expect(said[0]?.explanation).toMatch(/Give one of the meters another serial number/);
    expect(store.incidents.list().filter((incident) => incident.source === 'clock')).toEqual([]);
    const profile = profiles.get('tlp-generic');
    const sizes = ['D1-1', 'D2-1'].map((id) => {
      const reading = listed(store).find((one) => one.firstDownload === id.slice(0, 2))?.id;
      return placeWhole(store, 1, profile, reading).tests.length;
    });
    expect(sizes).toEqual([0, 1].map((meter) => told.filter((one) => one.meter === meter).length));
  });

  it('come out the same in whatever order the captures arrive, and rebuild the same', () => {
    const seen = (store: Store) =>
      listed(store).map((r) => [
        r.position,
        r.record.meterTimeText,
        r.shown,
        r.placement?.earliest,
        r.placement?.latest,
      ]);
    const inTime = filled(captures);
    const mixed = filled(shuffled(captures, SEED));
    expect(seen(mixed)).toEqual(seen(inTime));
    for (const store of [inTime, mixed])
      expect(rebuild(store, profiles, context, { accept: false }).differences).toEqual([]);
  });

  it('leave a state that is read back as it was written, sealed or not', () => {
    for (const count of [2, 5]) {
      const stored = filled(captures.slice(0, count)).memory.get(1);
      if (!stored) throw new Error('no state');
      const state = readMemoryState(stored);
      expect(readMemoryState(writeMemoryState(state))).toEqual(state);
      expect(writeMemoryState(state)).toMatchObject({ sequence: stored.sequence, seal: stored.seal });
      expect(readMemoryState({ ...stored, seal: 'of another form' })).toEqual(state);
      expect(state.images === undefined).toBe(count === 5);
      expect(state.others).toHaveLength(1);
    }
  });
});
