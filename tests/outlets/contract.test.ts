/**
 * The contract of every outlet: whatever fails, and wherever, the receiver has each version once in the end, in the order
 * of the log, and nothing else. Another outlet comes under it with a rig in rigs.ts.
 */
import { afterAll, beforeAll, describe, expect, it, onTestFinished } from 'vitest';
import type { ReadingId } from '../../src/core/reading.ts';
import type { Outlet } from '../../src/outlets/outlet.ts';
import { chanceFrom } from '../../src/virtual/chance.ts';
import { canMount, smallDisk } from '../faults/small-disk.ts';
import { tempFolder } from '../store/temp-store.ts';
import { makePostgres, type PostgresServer } from '../support/postgres.ts';
import { seedOr } from '../support/seed.ts';
import { addOutlet, workOffAll } from './driven.ts';
import { type MadeStore, madeStore } from './made-store.ts';
import { postgresKind, type Received, RIG_KINDS, type Rig, type RigKind } from './rigs.ts';
import { problemsOf } from './verdict.ts';

const SEED = seedOr(20260301);
const down = { code: 'OUTLET_DOWN' };

let server: PostgresServer;
beforeAll(async () => {
  server = await makePostgres();
}, 60_000);
afterAll(() => server.dispose());

/** What the receiver is meant to have: every version that was told, in the order of the log. */
type Expected = readonly Received[];
const settled = (ids: readonly ReadingId[], version = 1): Expected =>
  ids.map((reading) => ({ reading, version, isWithdrawn: false }));

interface Setting extends MadeStore {
  readonly rig: Rig;
  readonly outletNo: number;
  /** Works off what waits with a fresh outlet, as after a start. */
  work(outlet?: Outlet, signal?: AbortSignal): Promise<{ taken: number; refused: number }>;
}

async function settingOf(kind: RigKind, folder = tempFolder()): Promise<Setting> {
  const rig = await kind.make(folder);
  const made = madeStore(tempFolder());
  onTestFinished(async () => {
    made.store.close();
    await rig.dispose();
  });
  const outletNo = addOutlet(made.store);
  return {
    ...made,
    rig,
    outletNo,
    async work(given, signal) {
      const outlet = given ?? (await rig.open());
      try {
        return await workOffAll(made.store, outletNo, outlet, {}, undefined, signal);
      } finally {
        if (!given) await outlet.close();
      }
    },
  };
}

describe.each<RigKind>([...RIG_KINDS, postgresKind(() => server)])('the outlet $name', (kind) => {
  it('hands over every reading once, in order, also when all is handed over again', async () => {
    const { rig, store, add, outletNo, work } = await settingOf(kind);
    const ids = add(120);
    expect(await work()).toEqual({ taken: 120, refused: 0 });
    expect(await rig.received()).toEqual(settled(ids));
    store.outlets.rewind(outletNo, 0);
    expect(await work()).toEqual({ taken: 120, refused: 0 });
    expect(await rig.received()).toEqual(settled(ids));
  });

  it('hands over corrections and withdrawals as versions of their own', async () => {
    const { rig, add, change, people, work } = await settingOf(kind);
    const [a, b, c] = add(3);
    if (!a || !b || !c) throw new Error('no readings');
    await work();
    change(b, { patientNo: people[4] ?? 0 });
    change(a, { status: 'void' });
    await work();
    expect(await rig.received()).toEqual([
      ...settled([a, b, c]),
      { reading: b, version: 2, isWithdrawn: false },
      { reading: a, version: 2, isWithdrawn: true },
    ]);
  });

  it('says that the receiver is away, and goes on when it is back', async () => {
    const { rig, add, work } = await settingOf(kind);
    const ids = [...add(5)];
    await work();
    await rig.takeAway();
    ids.push(...add(5));
    await expect(work()).rejects.toMatchObject(down);
    await expect(work()).rejects.toMatchObject(down);
    await rig.bringBack();
    await work();
    expect(await rig.received()).toEqual(settled(ids));
  });

  it('goes on with the same outlet after the receiver was away', async () => {
    const { rig, add, work } = await settingOf(kind);
    const outlet = await rig.open();
    const ids = [...add(5)];
    await work(outlet);
    await rig.takeAway();
    ids.push(...add(5));
    await expect(work(outlet)).rejects.toMatchObject(down);
    await rig.bringBack();
    await work(outlet);
    await outlet.close();
    expect(await rig.received()).toEqual(settled(ids));
  });

  it('gives up a receiver that does not answer when it is told to, and loses nothing by it', async () => {
    const { rig, add, work } = await settingOf(kind);
    const ids = add(5);
    rig.stall?.(true);
    const stop = new AbortController();
    if (rig.stall) setTimeout(() => stop.abort(), 50);
    else stop.abort();
    const outcome = await work(undefined, stop.signal).catch((thrown: unknown) => thrown);
    if (rig.stall) expect(outcome).toMatchObject(down);
    rig.stall?.(false);
    await work();
    expect(await rig.received()).toEqual(settled(ids));
  });

  it('sets one refused reading aside with the reason, and hands over all others in order', async () => {
    const { rig, store, add, outletNo, work } = await settingOf(kind);
    const ids = add(20);
    const wrong = ids[11];
    if (!wrong) throw new Error('no reading');
    await rig.refuse?.(wrong);
    const { taken, refused } = await work();
    // A folder refuses nothing.
    expect([taken, refused]).toEqual(rig.refuse ? [19, 1] : [20, 0]);
    expect(await rig.received()).toEqual(settled(ids.filter((id) => !rig.refuse || id !== wrong)));
    const aside = store.outlets.setAside(outletNo);
    expect(aside.map((s) => [s.reading, s.reason !== ''])).toEqual(rig.refuse ? [[wrong, true]] : []);
  });

  it('hands over once what the receiver had stored when its answer was lost', async () => {
    const { rig, add, work } = await settingOf(kind);
    const ids = add(6);
    // A folder does not answer: there the program dies between writing and noting, which looks the same from here.
    const lossy = (outlet: Outlet): Outlet => ({
      ...outlet,
      async send(batch, signal) {
        await outlet.send(batch, signal);
        throw Object.assign(new Error('the answer was lost'), down);
      },
    });
    rig.loseNextAnswer?.();
    const outlet = rig.loseNextAnswer ? await rig.open() : lossy(await rig.open());
    await expect(work(outlet)).rejects.toMatchObject(down);
    await outlet.close();
    await work();
    expect(await rig.received()).toEqual(settled(ids));
  });

  it(`has everything once and in order after 40 mishaps at random between changes (SEED=${SEED})`, async () => {
    const { rig, store, add, change, people, work } = await settingOf(kind);
    const chance = chanceFrom(SEED);
    const ids: ReadingId[] = [];
    let outlet = await rig.open();
    for (let round = 0; round < 40; round++) {
      ids.push(...add(chance.whole(0, 4)));
      const changed = ids[chance.whole(0, Math.max(0, ids.length - 1))];
      if (changed && chance.happens(0.6))
        change(
          changed,
          chance.happens(0.5)
            ? { status: chance.happens(0.5) ? 'held' : 'settled' }
            : { patientNo: people[chance.whole(0, 4)] ?? 0 },
        );
      const isAway = chance.happens(0.25);
      if (isAway) await rig.takeAway();
      else if (chance.happens(0.3)) rig.loseNextAnswer?.();
      await work(outlet).catch((thrown: unknown) => {
        if (!(thrown instanceof Error && 'code' in thrown && thrown.code === 'OUTLET_DOWN')) throw thrown;
      });
      if (isAway) await rig.bringBack();
      // The program dies: what was open is not even closed.
      if (chance.happens(0.3)) outlet = await rig.open();
    }
    await work(outlet);
    await work();
    expect(problemsOf(await rig.received(), store, ids)).toEqual([]);
  });
});

describe.skipIf(!canMount).each(RIG_KINDS.filter((kind) => kind.isFolder))(
  'the outlet $name on a full disk (only where a small disk can be mounted)',
  (kind) => {
    it('waits, and goes on when there is room, with nothing lost and nothing twice', async () => {
      const disk = smallDisk(8000);
      const { rig, add, work } = await settingOf(kind, disk.dir);
      const ids = [...add(20)];
      await work();
      disk.fill();
      ids.push(...add(40));
      await expect(work()).rejects.toMatchObject(down);
      await expect(work()).rejects.toMatchObject(down);
      disk.clear();
      await work();
      expect(await rig.received()).toEqual(settled(ids));
    });
  },
);
