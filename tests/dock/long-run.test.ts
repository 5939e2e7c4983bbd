/** Three days with sixteen ports: nothing lost, nothing doubled, nothing left open. The proof `daemon` watches the memory too. */
import { expect, it } from 'vitest';
import { tempStore } from '../store/temp-store.ts';
import { seedOr } from '../support/seed.ts';
import { longRun } from './long-run.ts';

const SEED = seedOr(20260301);

it(`through 72 hours, 16 ports and 500 downloads every test is stored once and every port is given back (SEED=${SEED})`, async () => {
  const store = tempStore();
  // Waiting for the disk took most of this test's time; what a store owes its disk is held by tests/faults.
  store.db.script('PRAGMA synchronous = OFF');
  const run = await longRun({ seed: SEED, hours: 72, ports: 16, visits: 240, store });
  expect(run).toMatchObject({ lost: 0, doubled: 0, openAfter: 0, timersAfter: 0, portsOpenedUnassigned: 0 });
  expect(run.readings).toBe(run.testsMade);
  expect(run.downloads).toBeGreaterThan(500);
  expect(run.mostOpen).toBeLessThanOrEqual(16);
  expect(run.pulls).toBeGreaterThan(30);
}, 120_000);
