import { describe, expect, it } from 'vitest';
import { instant } from '../../src/core/instant.ts';
import { loadProfiles } from '../../src/intake/profile-library.ts';
import { replayCapture } from '../../src/intake/replay.ts';
import type { Store } from '../../src/store/store.ts';
import { lifeOf } from '../intake/told-meter.ts';
import { tempStore } from '../store/temp-store.ts';

const SEED = Number(process.env['SEED'] ?? 20260302);
const profiles = loadProfiles('/nowhere');
const context = { now: instant(Date.UTC(2026, 5, 1)), actor: 'test' };
const { captures, told } = lifeOf(SEED, 12, { runs: false });
const stamps = (store: Store): string[] => [...store.readings.pages({})].flat().map((r) => r.record.meterTimeText);

/** The disk has room for this many pages more. */
function roomFor(store: Store, morePages: number): void {
  const pages = store.db.statement<{ page_count: number }>('PRAGMA page_count').get()?.page_count ?? 0;
  store.db.statement(`PRAGMA max_page_count = ${pages + morePages}`).get();
}

describe(`a disk that fills up (SEED=${SEED})`, () => {
  it('stops the work with STORE_FULL, keeps what was stored, and all goes on when there is room again', () => {
    const store = tempStore();
    let stops = 0;
    for (const capture of captures) {
      // Little by little more room, so that the end of the disk comes at many different statements.
      for (let room = 0; ; room++) {
        roomFor(store, room);
        const before = stamps(store);
        try {
          replayCapture(store, capture, profiles, context);
          break;
        } catch (thrown) {
          expect(thrown).toMatchObject({ code: 'STORE_FULL' });
          expect(stamps(store)).toEqual(before);
          stops++;
        }
      }
    }
    expect(stops).toBeGreaterThan(5);
    expect(stamps(store)).toEqual(told.map((t) => t.stamp));
    expect(store.db.statement('PRAGMA integrity_check').all()).toEqual([{ integrity_check: 'ok' }]);
  });
});
