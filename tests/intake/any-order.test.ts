import { describe, expect, it } from 'vitest';
import type { Capture } from '../../src/core/capture.ts';
import { formatSeconds, instant } from '../../src/core/instant.ts';
import { loadProfiles } from '../../src/intake/profile-library.ts';
import { rebuild } from '../../src/intake/rebuild.ts';
import { replayCapture } from '../../src/intake/replay.ts';
import type { Store } from '../../src/store/store.ts';
import { generateHistory } from '../../src/virtual/history.ts';
import { WORLDS } from '../../src/virtual/life.ts';
import { tempStore } from '../store/temp-store.ts';
import { shuffled } from './told-meter.ts';

const SEED = Number(process.env['SEED'] ?? 20260302);
const profiles = loadProfiles('/nowhere');
const context = { now: instant(Date.UTC(2026, 5, 1)), actor: 'test' };

function filled(captures: readonly Capture[]): Store {
  const store = tempStore();
  for (const capture of captures) replayCapture(store, capture, profiles, context);
  return store;
}

/** Everything that people and outlets see, without names; times as exports round them. */
function seen(store: Store): unknown {
  const { readings, downloads, incidents } = store;
  return {
    readings: [...readings.pages({})].flat().map(({ record, position, shown, gone, flags, placement: p }) => ({
      ...{ position, shown, gone, flags, stamp: record.meterTimeText, values: record.values, basis: p?.basis },
      takenAt: p?.takenAt && formatSeconds(p.takenAt, 'round'),
      earliest: p?.earliest && formatSeconds(p.earliest, 'floor'),
      latest: p?.latest && formatSeconds(p.latest, 'ceil'),
    })),
    downloads: downloads.list().map(({ id: _id, captureNo: _no, after: _after, ...rest }) => rest),
    incidents: incidents.list().map(({ download: _, ...rest }) => rest),
  };
}

describe(`a year of one meter (SEED=${SEED})`, () => {
  it.each(WORLDS)(
    '%s: the order in which its captures come matters only for names, and both rebuild the same',
    (world) => {
      const { captures } = generateHistory({ seed: SEED, world });
      const inTime = filled(captures);
      const mixed = filled(shuffled(captures, SEED));
      expect(seen(mixed)).toEqual(seen(inTime));
      expect(inTime.readings.count(1)).toBeGreaterThan(20);
      for (const store of [inTime, mixed])
        expect(rebuild(store, profiles, context, { accept: false }).differences).toEqual([]);
    },
  );

  it('the newest capture says how the clock behaves, also where an older one with another profile comes last', () => {
    // Drift of 5 minutes a day: what is not between two sights of the clock gets far wider bounds.
    const { captures } = generateHistory({ seed: SEED, world: 'drift-only' });
    const other = { ...profiles.get(captures[0]?.profile ?? ''), name: 'of-old', driftPpm: 3500 };
    const both = { ...profiles, get: (name: string) => (name === other.name ? other : profiles.get(name)) };
    const [first, ...rest] = captures.map((c, i) => (i === 0 ? { ...c, profile: other.name } : c));
    if (!first) throw new Error('a year has captures');
    const [inTime, lastComesTheOldest] = [tempStore(), tempStore()];
    for (const capture of [first, ...rest]) replayCapture(inTime, capture, both, context);
    for (const capture of [...rest, first]) replayCapture(lastComesTheOldest, capture, both, context);
    expect(seen(lastComesTheOldest)).toEqual(seen(inTime));
  });
});
