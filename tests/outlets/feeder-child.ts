/**
 * A gateway that feeds one outlet, in a process of its own, for those that kill it: `feeder-child.ts JSON`. Small batches,
 * a dot before and behind each, so that it can be killed at any of them; `done` when nothing waits any more.
 */

import { kindOf } from '../../src/outlets/kinds.ts';
import { workOff } from '../../src/outlets/work-off.ts';
import { openStore } from '../../src/store/open-store.ts';
import { GATEWAY, NOW } from './driven.ts';
import type { Feeding } from './kill-rounds.ts';

const { dir, outletNo, setup, batch } = JSON.parse(process.argv[2] ?? '{}') as Feeding;
const store = openStore({ dir, now: NOW });
const real = await kindOf(setup.kind).open(setup.given, GATEWAY);
const outlet = { ...real, batchSize: batch };
for (;;) {
  process.stdout.write('.');
  const worked = await workOff(
    outletNo,
    { outlet, filter: {} },
    { store, now: () => NOW, signal: new AbortController().signal },
  );
  if (worked.kind === 'idle') break;
}
await real.close();
store.close();
process.stdout.write('done');
