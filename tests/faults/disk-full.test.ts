/** A real disk that is full or read-only: a clear message, nothing lost, and all goes on by itself when there is room. */
import { existsSync, readdirSync } from 'node:fs';
import { join } from 'node:path';
import { describe, expect, it, onTestFinished } from 'vitest';
import { instant } from '../../src/core/instant.ts';
import { loadProfiles } from '../../src/intake/profile-library.ts';
import { recoverAbandoned } from '../../src/intake/recover.ts';
import { replayCapture } from '../../src/intake/replay.ts';
import { makeBackup } from '../../src/store/backup.ts';
import { checkStore } from '../../src/store/check-store.ts';
import { openStore } from '../../src/store/open-store.ts';
import { restoreBackup } from '../../src/store/restore-backup.ts';
import type { Store } from '../../src/store/store.ts';
import { serveTcp } from '../../src/virtual/serve.ts';
import { dockOf } from '../dock/made-up.ts';
import { realDaemon } from '../dock/real-daemon.ts';
import { lifeOf } from '../intake/told-meter.ts';
import { tempFolder, tempStore } from '../store/temp-store.ts';
import { linePort, meterWith } from '../support/meters.ts';
import { canMount, smallDisk } from './small-disk.ts';

const SEED = Number(process.env['SEED'] ?? 20260302);
const profiles = loadProfiles('/nowhere');
const context = { now: instant(Date.UTC(2026, 5, 1)), actor: 'test' };
const order = (dir: string) => ({ dir, now: context.now, actor: 'test' });
const stamps = (store: Store): string[] => [...store.readings.pages({})].flat().map((r) => r.record.meterTimeText);

describe.skipIf(!canMount)('a real disk that is full (only where a small disk can be mounted)', () => {
  it(`stops taking in with STORE_FULL, keeps what was stored, and goes on when there is room (SEED=${SEED})`, () => {
    const disk = smallDisk(6000);
    const store = openStore({ dir: disk.dir, now: context.now });
    onTestFinished(() => store.close());
    const { captures, told } = lifeOf(SEED, 8, { runs: false });
    for (const capture of captures.slice(0, 3)) replayCapture(store, capture, profiles, context);
    const before = stamps(store);
    disk.fill();
    let fault: unknown;
    try {
      for (const capture of captures.slice(3)) replayCapture(store, capture, profiles, context);
    } catch (thrown) {
      fault = thrown;
    }
    expect(fault).toMatchObject({ code: 'STORE_FULL', hint: expect.stringContaining('Free some disk space') });
    expect(stamps(store).slice(0, before.length)).toEqual(before);
    disk.clear();
    for (const capture of captures) replayCapture(store, capture, profiles, context);
    expect(stamps(store)).toEqual(told.map((t) => t.stamp));
    expect(checkStore(store).problems).toEqual([]);
  });

  it('refuses a backup with a plain sentence, leaves nothing of it, and takes it when there is room', async () => {
    const dir = tempFolder();
    const store = tempStore(dir);
    for (const capture of lifeOf(SEED, 3, { runs: false }).captures) replayCapture(store, capture, profiles, context);
    const disk = smallDisk(2000);
    const target = join(disk.dir, 'b.db');
    disk.fill();
    await expect(makeBackup(order(dir), target)).rejects.toMatchObject({ code: 'FILE_UNWRITABLE' });
    await expect(makeBackup({ ...order(dir), passphrase: 'gulls and more gulls' }, target)).rejects.toMatchObject({
      code: 'FILE_UNWRITABLE',
    });
    expect(readdirSync(disk.dir)).toEqual(['filler']);
    expect(readdirSync(dir).filter((name) => name.includes('draft'))).toEqual([]);
    disk.clear();
    expect((await makeBackup(order(dir), target)).tally.rows['capture']).toBe(3);
  });

  it('refuses a restore without leaving half a store, and does it when there is room', async () => {
    const dir = tempFolder();
    const store = tempStore(dir);
    for (const capture of lifeOf(SEED, 3, { runs: false }).captures) replayCapture(store, capture, profiles, context);
    const file = join(tempFolder(), 'b.db');
    await makeBackup(order(dir), file);
    const disk = smallDisk(2000);
    const restoring = { ...order(disk.dir), file, passphrase: async () => '' };
    disk.fill();
    await expect(restoreBackup(restoring)).rejects.toMatchObject({ code: 'STORE_FULL' });
    expect(existsSync(join(disk.dir, 'tallydock.db'))).toBe(false);
    disk.clear();
    expect((await restoreBackup(restoring)).rows['capture']).toBe(3);
  });

  it('a docked meter waits, and is read by itself as soon as there is room', async () => {
    const disk = smallDisk(6000);
    const store = openStore({ dir: disk.dir, now: context.now });
    onTestFinished(() => store.close());
    disk.fill();
    const served = await serveTcp(linePort(meterWith({ tests: 6 })), 0);
    onTestFinished(() => served.close());
    const { until } = realDaemon([dockOf({ name: 'front desk', port: served.where })], { store });
    const waiting = await until('front desk', ({ trouble }) => trouble?.code === 'STORE_FULL');
    expect(waiting.trouble?.hint).not.toBe('');
    expect(stamps(store)).toEqual([]);
    disk.clear();
    await until('front desk', ({ phase }) => phase === 'docked');
    expect(stamps(store)).toHaveLength(6);
    expect(checkStore(store).problems).toEqual([]);
  });
});

describe.skipIf(!canMount)('a disk that has become read-only (only where a small disk can be mounted)', () => {
  it('is said in plain words, nothing is lost, and all goes on when it can be written again', () => {
    const disk = smallDisk(6000);
    const { captures, told } = lifeOf(SEED, 4, { runs: false });
    const first = openStore({ dir: disk.dir, now: context.now });
    for (const capture of captures.slice(0, 2)) replayCapture(first, capture, profiles, context);
    const before = stamps(first);
    first.close();
    disk.setWritable(false);
    expect(() => openStore({ dir: disk.dir, now: context.now })).toThrow(
      expect.objectContaining({ code: 'STORE_DENIED', message: expect.stringContaining('Not allowed') }),
    );
    disk.setWritable(true);
    const again = openStore({ dir: disk.dir, now: context.now });
    onTestFinished(() => again.close());
    expect(stamps(again)).toEqual(before);
    expect(recoverAbandoned(again, profiles, context)).toEqual([]);
    for (const capture of captures) replayCapture(again, capture, profiles, context);
    expect(stamps(again)).toEqual(told.map((t) => t.stamp));
  });
});
