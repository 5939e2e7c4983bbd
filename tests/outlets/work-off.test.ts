/** What an outlet is told, and what is noted of it: the half of "exactly once" that lies with us. */
import { describe, expect, it, onTestFinished } from 'vitest';
import type { Delivery } from '../../src/outlets/outlet.ts';
import { tempFolder } from '../store/temp-store.ts';
import { addOutlet, down, inShort, memoryOutlet, workOffAll } from './driven.ts';
import { type MadeReading, madeStore } from './made-store.ts';

function made() {
  const it = madeStore(tempFolder());
  onTestFinished(() => it.store.close());
  const outletNo = addOutlet(it.store);
  const outlet = memoryOutlet();
  return { ...it, outletNo, outlet, work: () => workOffAll(it.store, outletNo, outlet) };
}

describe('what an outlet is told', () => {
  it('is every clear reading once, in the order in which they came about', async () => {
    const { add, work, outlet } = made();
    const ids = add(8);
    expect(await work()).toEqual({ taken: 8, refused: 0 });
    expect(inShort(outlet.taken)).toEqual(ids.map((id) => `${id} v1`));
    expect(await work()).toEqual({ taken: 0, refused: 0 });
  });

  it('is never a held or void reading that it did not have', async () => {
    const { add, work, outlet } = made();
    const kinds: MadeReading[] = [{ status: 'held' }, {}, { status: 'void' }, { status: 'provisional' }];
    const ids = add(4, (n) => kinds[n] ?? {});
    await work();
    expect(inShort(outlet.taken)).toEqual([`${ids[1]} v1`, `${ids[3]} v1`]);
  });

  it('is a correction with the version and the person before', async () => {
    const { add, change, people, work, outlet } = made();
    const [id = ''] = add(1);
    await work();
    change(id as never, { patientNo: people[3] ?? 0 });
    await work();
    expect(inShort(outlet.taken)).toEqual([`${id} v1`, `${id} v2 before v1 ALDER-001`]);
    expect(outlet.taken[1]?.reading.patient?.id).toBe('ALDER-004');
  });

  it('is a withdrawal where a reading that it has is held, void or nobody knows whose, and only once', async () => {
    const { add, change, work, outlet } = made();
    const [id] = add(1);
    if (!id) throw new Error('no reading');
    await work();
    change(id, { status: 'held' });
    await work();
    change(id, { status: 'void' });
    await work();
    change(id, { status: 'settled' });
    await work();
    expect(inShort(outlet.taken)).toEqual([
      `${id} v1`,
      `${id} v2 withdrawn before v1 ALDER-001`,
      `${id} v4 before v1 ALDER-001`,
    ]);
  });

  it('is only the newest of several versions, and what came before is what it really had', async () => {
    const { add, change, people, work, outlet } = made();
    const [id] = add(1);
    if (!id) throw new Error('no reading');
    await work();
    change(id, { patientNo: people[1] ?? 0 });
    change(id, { patientNo: people[2] ?? 0 });
    await work();
    change(id, { status: 'void' });
    await work();
    expect(inShort(outlet.taken)).toEqual([
      `${id} v1`,
      `${id} v3 before v1 ALDER-001`,
      `${id} v4 withdrawn before v3 ALDER-003`,
    ]);
  });

  it('is no withdrawal of what it never had, although an earlier version would have been for it', async () => {
    const { add, change, work, outlet } = made();
    const [first, second] = add(2);
    if (!first || !second) throw new Error('no readings');
    change(first, { status: 'void' });
    change(second, { status: 'held' });
    change(second, { status: 'settled' });
    await work();
    expect(inShort(outlet.taken)).toEqual([`${second} v3`]);
  });

  it('takes back a version that may have arrived before the program died', async () => {
    const { add, change, work, outlet } = made();
    const [id] = add(1);
    if (!id) throw new Error('no reading');
    outlet.plan = () => 'stored-then-down';
    await expect(work()).rejects.toMatchObject({ code: 'OUTLET_DOWN' });
    change(id, { status: 'void' });
    outlet.plan = undefined;
    await work();
    expect(inShort(outlet.taken)).toEqual([`${id} v1`, `${id} v2 withdrawn before v1 ALDER-001`]);
  });

  it('is taken back where two readings were found to be one test', async () => {
    const { store, add, work, outlet } = made();
    const [id] = add(1);
    if (!id) throw new Error('no reading');
    await work();
    store.db.write(() => {
      store.readings.drop(id);
      store.judged.retire(id, outlet.taken[0]?.reading.downloadedAt ?? (down().name as never));
    });
    await work();
    expect(inShort(outlet.taken)).toEqual([`${id} v1`, `${id} v2 withdrawn before v1 ALDER-001`]);
    const last = outlet.taken.at(-1)?.reading;
    expect(last).toMatchObject({ status: 'void', kind: 'patient', meter: { id: 'PA00042', model: 'GM-10' } });
    expect(last?.values).toEqual(outlet.taken[0]?.reading.values);
  });
});

describe('filters', () => {
  it.each<[string, object, number[]]>([
    ['kinds', { kinds: ['control'] }, [1]],
    ['meters', { meters: ['PA00099'] }, [4, 5]],
    ['only settled', { onlySettled: true }, [0, 1, 2, 4, 5]],
  ])('let through what they name: %s', async (_, filter, wanted) => {
    const { store, add } = made();
    const these: MadeReading[] = [{}, { kind: 'control' }, { kind: 'error' }, { status: 'provisional' }];
    const ids = [...add(4, (n) => these[n] ?? {}), ...add(2, {}, 'PA00099')];
    const outlet = memoryOutlet();
    const no = addOutlet(store, 'filtered', filter);
    await workOffAll(store, no, outlet, filter);
    expect(outlet.taken.map((d) => ids.indexOf(d.reading.id))).toEqual(wanted);
    expect(store.outlets.get(no)?.cursor).toBe(6);
  });
});

describe('trouble', () => {
  it('hands the same readings over again after a failure, and moves on only behind what was taken', async () => {
    const { store, outletNo, add, work, outlet } = made();
    const ids = add(7);
    outlet.plan = (batch) => (batch[0]?.reading.id === ids[3] ? 'down' : () => ({ kind: 'taken' }));
    await expect(work()).rejects.toMatchObject({ code: 'OUTLET_DOWN' });
    expect(store.outlets.get(outletNo)).toMatchObject({ cursor: 3, offered: 6 });
    outlet.plan = undefined;
    await work();
    expect(inShort(outlet.taken)).toEqual(ids.map((id) => `${id} v1`));
  });

  it('sets aside what is refused, with the reason, and goes on with the rest', async () => {
    const { store, outletNo, add, work, outlet } = made();
    const ids = add(5);
    outlet.plan = () => (d) =>
      d.reading.id === ids[1] ? { kind: 'refused', reason: 'unit not known' } : { kind: 'taken' };
    expect(await work()).toEqual({ taken: 4, refused: 1 });
    expect(store.outlets.setAside(outletNo)).toMatchObject([
      { reading: ids[1], version: 1, reason: 'unit not known', tries: 1, again: false },
    ]);
    expect(store.outlets.lag(store.outlets.list()[0] as never)).toMatchObject({ waiting: 0, setAside: 1 });
  });

  it('lets a newer version of a refused reading take its place, as one that the outlet never had', async () => {
    const { store, outletNo, add, change, work, outlet } = made();
    const [id] = add(1);
    if (!id) throw new Error('no reading');
    outlet.plan = () => () => ({ kind: 'refused', reason: 'not today' });
    await work();
    outlet.plan = undefined;
    change(id, { status: 'provisional' });
    await work();
    expect(inShort(outlet.taken)).toEqual([`${id} v2`]);
    expect(store.outlets.setAside(outletNo)).toEqual([]);
  });

  it('forgets a refused reading that is void before anybody had it', async () => {
    const { store, outletNo, add, change, work, outlet } = made();
    const [id] = add(1);
    if (!id) throw new Error('no reading');
    outlet.plan = () => () => ({ kind: 'refused', reason: 'not today' });
    await work();
    outlet.plan = undefined;
    change(id, { status: 'void' });
    await work();
    expect([outlet.taken, store.outlets.setAside(outletNo)]).toEqual([[], []]);
  });

  it('tries refused readings again when somebody asks, and counts the tries', async () => {
    const { store, outletNo, add, work, outlet } = made();
    const ids = add(2);
    outlet.plan = () => (d) => (d.reading.id === ids[0] ? { kind: 'refused', reason: 'first' } : { kind: 'taken' });
    await work();
    expect(store.outlets.tryAgain(outletNo)).toBe(1);
    await work();
    expect(store.outlets.setAside(outletNo)).toMatchObject([{ tries: 2, again: false }]);
    outlet.plan = undefined;
    store.outlets.tryAgain(outletNo);
    await work();
    expect(store.outlets.setAside(outletNo)).toEqual([]);
    expect(outlet.taken.map((d) => d.reading.id)).toEqual([ids[1], ids[0]]);
  });

  it('hands everything over again after a replay, each reading as it stands now', async () => {
    const { store, outletNo, add, change, work, outlet } = made();
    const ids = add(3);
    await work();
    if (ids[0]) change(ids[0], { status: 'provisional' });
    await work();
    store.outlets.rewind(outletNo, 0);
    await work();
    expect(inShort(outlet.taken.slice(4))).toEqual([
      `${ids[1]} v1`,
      `${ids[2]} v1`,
      `${ids[0]} v2 before v1 ALDER-001`,
    ]);
  });

  it('leaves a replay that somebody asks for during a send where it is', async () => {
    const { store, outletNo, add, work, outlet } = made();
    add(3);
    await work();
    add(3);
    let isFirst = true;
    outlet.plan = () => {
      if (isFirst) store.outlets.rewind(outletNo, 0);
      isFirst = false;
      return () => ({ kind: 'taken' });
    };
    await work();
    expect(outlet.taken).toHaveLength(12);
    expect(store.outlets.get(outletNo)?.cursor).toBe(6);
  });

  it('stands still while paused, and knows nothing of an outlet that was removed during a send', async () => {
    const { store, outletNo, add, work, outlet } = made();
    add(2);
    store.outlets.setState(outletNo, 'paused');
    expect(await work()).toEqual({ taken: 0, refused: 0 });
    store.outlets.setState(outletNo, 'running');
    outlet.plan = (batch: readonly Delivery[]) => {
      store.outlets.remove(outletNo);
      return batch.length > 0 ? () => ({ kind: 'taken' }) : 'down';
    };
    await work();
    expect(store.outlets.list()).toEqual([]);
  });
});
