/** Replays all captures of a life in a process of its own: `replay-child.ts DIR SEED ORDER`. */
import { instant } from '../../src/core/instant.ts';
import { loadProfiles } from '../../src/intake/profile-library.ts';
import { replayCapture } from '../../src/intake/replay.ts';
import { openStore } from '../../src/store/open-store.ts';
import { lifeOf, shuffled } from '../intake/told-meter.ts';

const [dir = '', seed = '', order = ''] = process.argv.slice(2);
const context = { now: instant(Date.UTC(2026, 5, 1)), actor: `process ${order}` };
const profiles = loadProfiles(dir);
const store = openStore({ dir, now: context.now });
const { captures } = lifeOf(Number(seed), 15, { runs: false });
for (const capture of shuffled(captures, Number(order))) replayCapture(store, capture, profiles, context);
store.close();
