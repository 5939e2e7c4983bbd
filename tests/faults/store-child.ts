/**
 * A gateway in a process of its own, for tests that kill it: `store-child.ts DIR SEED VISITS ATTEMPT STEPS`. It recovers
 * what a dead one left, then lives through the visits of one meter that the store does not hold whole yet: records,
 * secures, closes, takes in, one after the other, giving way between chunks as real ports do. Writes a dot after every
 * step, so that it can be killed at any of them, and `done` when all visits are in. After STEPS steps it stands still
 * and waits for its end (0: never), so that a fast machine cannot outrun the kill.
 */
import { setImmediate as giveWay } from 'node:timers/promises';
import { instant } from '../../src/core/instant.ts';
import { loadProfiles } from '../../src/intake/profile-library.ts';
import { openRecorder } from '../../src/intake/recorder.ts';
import { recoverAbandoned } from '../../src/intake/recover.ts';
import { takeInCapture } from '../../src/intake/take-in.ts';
import { openStore } from '../../src/store/open-store.ts';
import { lifeOf } from '../intake/told-meter.ts';

const [dir = '', seed = '', visits = '', attempt = '', steps = '0'] = process.argv.slice(2);
const context = { now: instant(Date.UTC(2026, 5, 1)), actor: 'test' };
const profiles = loadProfiles(dir);
const { captures } = lifeOf(Number(seed), Number(visits), { runs: false, cuts: false });
const store = openStore({ dir, now: context.now });
let taken = 0;
const dot = (): void => {
  process.stdout.write('.');
  if (++taken === Number(steps)) Atomics.wait(new Int32Array(new SharedArrayBuffer(4)), 0, 0);
};
dot();
for (const recovered of recoverAbandoned(store, profiles, context)) {
  if ('fault' in recovered) throw recovered.fault;
  dot();
}
const whole = store.downloads.list().filter((download) => download.complete).length;
// A visit that was killed is tried again a little later, as a person would.
const laterMs = Number(attempt) * 1000;
for (const { chunks, closedAt, openedAt, ...header } of captures.slice(whole)) {
  const recorder = openRecorder(store, { ...header, openedAt: instant(openedAt + laterMs) });
  for (const { at, dir, data } of chunks) {
    // A few bytes at a time, as from a slow line: most kills then come while a conversation runs.
    for (let from = 0; from < data.length; from += 12) {
      recorder.record({ at: instant(at + laterMs), dir, data: data.subarray(from, from + 12) });
      await giveWay();
    }
    recorder.secure();
    dot();
  }
  recorder.close(instant((closedAt ?? openedAt) + laterMs));
  dot();
  await giveWay();
  takeInCapture(store, recorder.captureNo, profiles, context);
  dot();
  await giveWay();
}
store.close();
process.stdout.write('done');
