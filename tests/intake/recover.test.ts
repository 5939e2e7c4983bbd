import { describe, expect, it } from 'vitest';
import { instant } from '../../src/core/instant.ts';
import { libraryOf, loadProfiles } from '../../src/intake/profile-library.ts';
import { recoverAbandoned } from '../../src/intake/recover.ts';
import { isAlive, markOf, ownMark } from '../../src/store/process-mark.ts';
import type { Store } from '../../src/store/store.ts';
import { tempStore } from '../store/temp-store.ts';
import { captureOf } from './told-meter.ts';

const profiles = loadProfiles('/nowhere');
const context = { now: instant(Date.UTC(2026, 5, 1)), actor: 'test' };
const AT = instant(Date.UTC(2026, 0, 10, 9, 0, 0));
const whole = captureOf({
  at: AT,
  tests: [
    { stamp: '2026-01-08T08:00:00', inr: '2.2' },
    { stamp: '2026-01-09T08:00:00', inr: '2.4' },
  ],
});
// No process has this number: the largest that Linux gives is 4194304, and none started at this moment.
const DEAD = { pid: 4_194_305, start: 'never' };

/** A capture with the first chunks of the conversation, left open by `owner`. */
function leave(store: Store, owner: { pid: number; start?: string }, chunks: number): number {
  const no = store.captures.open(whole, owner);
  store.captures.append(no, whole.chunks.slice(0, chunks));
  return no;
}

describe('what a dead process left', () => {
  it('is taken in as an incomplete download that has no closing time', () => {
    const store = tempStore();
    const no = leave(store, DEAD, 4);
    expect(recoverAbandoned(store, profiles, context)).toMatchObject([
      { captureNo: no, taken: { already: false, downloads: [{ complete: false, new: 1 }] } },
    ]);
    expect(store.captures.load(no).capture.closedAt).toBeUndefined();
    expect([...store.readings.pages({})].flat().map((r) => r.shown)).toEqual(['provisional']);
    expect(recoverAbandoned(store, profiles, context)).toEqual([]);
  });

  it('is taken in whole where only the taking in was missing', () => {
    const store = tempStore();
    const no = leave(store, DEAD, whole.chunks.length);
    store.captures.seal(no, whole.closedAt);
    expect(recoverAbandoned(store, profiles, context)).toMatchObject([
      { captureNo: no, taken: { downloads: [{ complete: true, new: 2 }] } },
    ]);
  });

  it('is recognised by the start of the process, where its number has been given to another since', () => {
    const store = tempStore();
    leave(store, { pid: process.pid, start: 'before the last boot' }, 4);
    expect(isAlive(ownMark())).toBe(true);
    // Where the platform does not tell a start, the number alone counts and the capture waits.
    expect(recoverAbandoned(store, profiles, context)).toHaveLength(ownMark().start === undefined ? 0 : 1);
  });

  it('does not hold back the others where one cannot be taken in, and is tried again', () => {
    const store = tempStore();
    const odd = store.captures.open({ ...whole, profile: 'gone' }, DEAD);
    const no = leave(store, DEAD, 4);
    expect(recoverAbandoned(store, profiles, context)).toMatchObject([
      { captureNo: odd, fault: { code: 'PROFILE_UNKNOWN' } },
      { captureNo: no, taken: { already: false } },
    ]);
    const found = libraryOf([...profiles.all(), { ...profiles.get('tlp-generic'), name: 'gone' }]);
    expect(recoverAbandoned(store, found, context)).toMatchObject([{ captureNo: odd, taken: { downloads: [] } }]);
  });

  it('leaves the captures of living processes alone', () => {
    const store = tempStore();
    leave(store, ownMark(), 4);
    leave(store, markOf(process.ppid), 4);
    expect(recoverAbandoned(store, profiles, context)).toEqual([]);
    expect(store.captures.unfinished()).toHaveLength(2);
  });
});
