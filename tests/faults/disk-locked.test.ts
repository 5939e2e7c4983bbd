/** A store that another process holds locked: a clear message, nothing lost, and all goes on when it lets go. */
import { spawn } from 'node:child_process';
import { once } from 'node:events';
import { createRequire } from 'node:module';
import { describe, expect, it, onTestFinished } from 'vitest';
import { instant } from '../../src/core/instant.ts';
import { loadProfiles } from '../../src/intake/profile-library.ts';
import { replayCapture } from '../../src/intake/replay.ts';
import { checkStore } from '../../src/store/check-store.ts';
import { openStore } from '../../src/store/open-store.ts';
import type { Store } from '../../src/store/store.ts';
import { serveTcp } from '../../src/virtual/serve.ts';
import { dockOf } from '../dock/made-up.ts';
import { realDaemon } from '../dock/real-daemon.ts';
import { lifeOf } from '../intake/told-meter.ts';
import { tempFolder } from '../store/temp-store.ts';
import { linePort, meterWith } from '../support/meters.ts';

const SEED = Number(process.env['SEED'] ?? 20260302);
const profiles = loadProfiles('/nowhere');
const context = { now: instant(Date.UTC(2026, 5, 1)), actor: 'test' };
const library = createRequire(import.meta.url).resolve('better-sqlite3');
const stamps = (store: Store): string[] => [...store.readings.pages({})].flat().map((r) => r.record.meterTimeText);

/** Another process that holds the write lock until the returned function is called. */
async function lockElsewhere(path: string): Promise<() => Promise<void>> {
  const script = `const db = require(${JSON.stringify(library)})(${JSON.stringify(path)});
    db.exec('BEGIN IMMEDIATE'); process.stdout.write('locked'); process.stdin.resume().on('end', () => process.exit());`;
  const child = spawn(process.execPath, ['-e', script], { stdio: ['pipe', 'pipe', 'inherit'] });
  onTestFinished(() => void child.kill('SIGKILL'));
  await once(child.stdout, 'data');
  return async () => {
    const gone = once(child, 'exit');
    child.stdin.end();
    await gone;
  };
}

/** A store that does not wait long for others. */
function impatientStore(dir: string): Store {
  const store = openStore({ dir, now: context.now, busyMs: 50 });
  onTestFinished(() => store.close());
  return store;
}

describe('a store that another process holds locked', () => {
  it(`stops taking in with STORE_BUSY, and takes everything when it is let go (SEED=${SEED})`, async () => {
    const store = impatientStore(tempFolder());
    const { captures, told } = lifeOf(SEED, 4, { runs: false });
    const [first, ...others] = captures;
    if (first) replayCapture(store, first, profiles, context);
    const before = stamps(store);
    const letGo = await lockElsewhere(store.db.path);
    for (const capture of others)
      expect(() => replayCapture(store, capture, profiles, context)).toThrow(
        expect.objectContaining({ code: 'STORE_BUSY', hint: expect.stringContaining('try again') }),
      );
    expect(stamps(store)).toEqual(before);
    await letGo();
    for (const capture of captures) replayCapture(store, capture, profiles, context);
    expect(stamps(store)).toEqual(told.map((t) => t.stamp));
    expect(checkStore(store).problems).toEqual([]);
  });

  it('lets a docked meter wait, which is read by itself when it is let go', async () => {
    const store = impatientStore(tempFolder());
    const letGo = await lockElsewhere(store.db.path);
    const served = await serveTcp(linePort(meterWith({ tests: 6 })), 0);
    onTestFinished(() => served.close());
    const { until } = realDaemon([dockOf({ name: 'front desk', port: served.where })], { store });
    await until('front desk', ({ trouble }) => trouble?.code === 'STORE_BUSY');
    await letGo();
    await until('front desk', ({ phase }) => phase === 'docked');
    expect(stamps(store)).toHaveLength(6);
  });
});
