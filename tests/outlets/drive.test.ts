/** The driver of all outlets, in simulated time: lanes that do not touch each other, waits that grow, and what is told. */
import { describe, expect, it, onTestFinished } from 'vitest';
import { Fault } from '../../src/core/fault.ts';
import { instant } from '../../src/core/instant.ts';
import { type DriveNews, driveOutlets } from '../../src/outlets/drive.ts';
import type { Delivery } from '../../src/outlets/outlet.ts';
import { simTime } from '../dock/sim-time.ts';
import { tempFolder } from '../store/temp-store.ts';
import { addOutlet, down, type MemoryOutlet, memoryOutlet, NOW } from './driven.ts';
import { madeStore } from './made-store.ts';

const MINUTE = 60_000;

function driving(names: readonly string[] = ['record']) {
  const made = madeStore(tempFolder());
  const outlets = new Map(names.map((name) => [name, memoryOutlet()]));
  const numbers = new Map(names.map((name) => [name, addOutlet(made.store, name)]));
  const time = simTime(NOW);
  const news: DriveNews[] = [];
  const opened: string[] = [];
  const drive = driveOutlets({
    store: made.store,
    now: time.now,
    timers: time.timers,
    chance: () => 0.5,
    open(row) {
      opened.push(row.name);
      const outlet = outlets.get(row.name);
      if (!outlet) throw new Fault('OUTLET_INVALID', 'Setting "folder" is missing', 'Write it');
      return { outlet, filter: {} };
    },
    tell: (what) => void news.push(what),
  });
  onTestFinished(async () => {
    await drive.stop();
    made.store.close();
  });
  const outlet = (name: string): MemoryOutlet => {
    const found = outlets.get(name);
    if (!found) throw new Error(`no outlet ${name}`);
    return found;
  };
  const pass = (ms: number): Promise<void> => time.runUntil(instant(time.now() + ms));
  const row = (name = 'record') => made.store.outlets.get(numbers.get(name) ?? 0);
  return {
    ...made,
    drive,
    time,
    news,
    opened,
    outlets,
    outlet,
    pass,
    row,
    no: (name: string) => numbers.get(name) ?? 0,
  };
}

describe('the driver', () => {
  it('hands over what is there, and what comes later', async () => {
    const { add, outlet, pass } = driving();
    add(7);
    await pass(MINUTE);
    expect(outlet('record').taken).toHaveLength(7);
    add(2);
    await pass(MINUTE);
    expect(outlet('record').taken).toHaveLength(9);
  });

  it('lets the trouble of one outlet touch no other', async () => {
    const { add, outlet, pass } = driving(['record', 'research']);
    outlet('record').plan = () => 'down';
    add(7);
    await pass(MINUTE);
    expect([outlet('record').taken.length, outlet('research').taken.length]).toEqual([0, 7]);
  });

  it('waits longer after each failure up to the ceiling, and at once less after a success', async () => {
    const { add, outlet, time, pass } = driving();
    const tries: number[] = [];
    outlet('record').plan = () => {
      tries.push(time.now());
      return 'down';
    };
    add(1);
    await pass(60 * MINUTE);
    const waits = tries.map((at, i) => (at - (tries[i - 1] ?? at)) / 1000).slice(1);
    // Three quarters of 1, 2, 4 ... 300 s, to the next look of the lane, which comes every two seconds.
    expect(waits.slice(0, 9)).toEqual([2, 2, 4, 6, 12, 24, 48, 96, 192]);
    expect(new Set(waits.slice(9))).toEqual(new Set([226]));
    outlet('record').plan = undefined;
    await pass(10 * MINUTE);
    tries.length = 0;
    outlet('record').plan = () => {
      tries.push(time.now());
      return 'down';
    };
    add(1);
    await pass(MINUTE / 2);
    expect((tries[1] ?? 0) - (tries[0] ?? 0)).toBe(2000);
  });

  it('tells the first failure for each reason, the recovery and every refusal, and shows the reason in the store', async () => {
    const { add, outlet, pass, news, row } = driving();
    outlet('record').plan = () => 'down';
    add(1);
    await pass(5 * MINUTE);
    expect(row()).toMatchObject({ trouble: { code: 'OUTLET_DOWN', hint: down().hint } });
    expect(row()?.failures).toBeGreaterThan(3);
    outlet('record').plan = () => () => ({ kind: 'refused', reason: 'no' });
    await pass(10 * MINUTE);
    expect(news.map((n) => n.kind)).toEqual(['down', 'recovered', 'refused']);
    expect(row()).toMatchObject({ failures: 0 });
    expect(row()?.trouble).toBeUndefined();
  });

  it('opens an outlet afresh after a failure, and lets go of one that is paused', async () => {
    const { add, store, outlet, pass, opened, no } = driving();
    await pass(MINUTE);
    expect(opened).toEqual(['record']);
    outlet('record').plan = () => 'down';
    add(1);
    await pass(2000);
    outlet('record').plan = undefined;
    await pass(MINUTE);
    expect(opened).toEqual(['record', 'record']);
    store.outlets.setState(no('record'), 'paused');
    add(1);
    await pass(MINUTE);
    expect(outlet('record').taken).toHaveLength(1);
    store.outlets.setState(no('record'), 'running');
    await pass(MINUTE);
    expect([outlet('record').taken.length, opened.length]).toEqual([2, 3]);
  });

  it('tries at once when somebody resumes an outlet that waits', async () => {
    const { add, store, outlet, pass, no } = driving();
    outlet('record').plan = () => 'down';
    add(1);
    await pass(30 * MINUTE);
    outlet('record').plan = undefined;
    store.outlets.setState(no('record'), 'running');
    await pass(4000);
    expect(outlet('record').taken).toHaveLength(1);
  });

  it('follows outlets that are added, set up wrongly, and removed while it runs', async () => {
    const { add, store, outlets, outlet, pass, row } = driving();
    add(3);
    await pass(MINUTE);
    const wrong = addOutlet(store, 'not there');
    outlets.set('late', memoryOutlet());
    addOutlet(store, 'late');
    await pass(MINUTE);
    expect(outlet('late').taken).toHaveLength(3);
    expect(store.outlets.get(wrong)?.trouble).toMatchObject({ code: 'OUTLET_INVALID' });
    store.outlets.remove(row()?.outletNo ?? 0);
    add(1);
    await pass(MINUTE);
    expect([outlet('record').taken.length, outlet('late').taken.length]).toEqual([3, 4]);
  });

  it('gives up a receiver that never answers, and tries again', async () => {
    const { add, outlet, pass, row } = driving();
    const record = outlet('record');
    const { send } = record;
    let hung = 0;
    record.send = (batch: readonly Delivery[], signal) => {
      if (hung > 1) return send(batch, signal);
      hung++;
      return new Promise((_, reject) => signal.addEventListener('abort', () => reject(down())));
    };
    add(2);
    await pass(MINUTE);
    expect([hung, record.taken.length]).toEqual([1, 0]);
    await pass(2 * MINUTE);
    expect(row()).toMatchObject({ failures: 1 });
    await pass(6 * MINUTE);
    expect([hung, record.taken.length]).toEqual([2, 2]);
  });

  it('does not wait for years where the clock of the PC was put back', async () => {
    const { add, store, outlet, pass, no } = driving();
    add(1);
    store.outlets.fail(no('record'), { code: 'OUTLET_DOWN', message: '', hint: '', at: NOW }, instant(NOW + 1e11));
    await pass(MINUTE);
    expect(outlet('record').taken).toHaveLength(1);
  });

  it('stops in the middle of a send, and the batch comes again at the next start', async () => {
    const { add, drive, store, outlet, pass, row } = driving();
    const record = outlet('record');
    record.send = (_, signal) => new Promise((__, reject) => signal.addEventListener('abort', () => reject(down())));
    add(2);
    await pass(4000);
    await drive.stop();
    expect(row()).toMatchObject({ cursor: 0, offered: 2, failures: 0 });
    expect(store.outlets.list()).toHaveLength(1);
  });
});
