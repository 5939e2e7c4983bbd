/** Faults at a dock with the real serial library on pseudo-terminals: each passes by itself, and nothing is lost. */
import { renameSync, rmSync, symlinkSync } from 'node:fs';
import { join } from 'node:path';
import { describe, expect, it, onTestFinished } from 'vitest';
import { realHost } from '../../src/dock/host.ts';
import type { Store } from '../../src/store/store.ts';
import type { PortFaults } from '../../src/virtual/faults.ts';
import { servePty } from '../../src/virtual/serve.ts';
import type { LineHabits } from '../../src/virtual/speak-line.ts';
import { openLink } from '../../src/wire/transport/open-link.ts';
import { serialOpenFault } from '../../src/wire/transport/port-errors.ts';
import { dockOf } from '../dock/made-up.ts';
import { QUICK, realDaemon } from '../dock/real-daemon.ts';
import { tempFolder } from '../store/temp-store.ts';
import { linePort, meterWith } from '../support/meters.ts';

const TESTS = 6;

async function ptyMeter(faults: Partial<PortFaults> = {}, habits: Partial<LineHabits> = {}, id = 'SN00042') {
  const served = await servePty(linePort({ ...meterWith({ tests: TESTS }), id }, faults, habits));
  onTestFinished(() => served.close());
  return served;
}

const runNumbers = (store: Store): number[] =>
  store.db
    .statement<{ run_number: number }>('SELECT run_number FROM reading ORDER BY run_number')
    .all()
    .map((row) => row.run_number);
const EACH_ONCE = [1, 2, 3, 4, 5, 6];

describe('on a pseudo-terminal', () => {
  it.each([
    ['while it says its name', 30],
    ['between its name and its memory', 96],
    ['in the first result', 150],
    ['in the middle of the memory', 430],
    ['in the proof of completeness', 760],
  ])('a plug pulled %s leaves what was read, and the replug brings the rest', async (_stage, pullAfter) => {
    const meter = await ptyMeter({ pullAfter });
    const { until, store, log } = realDaemon([dockOf({ name: 'left', port: meter.where })]);
    await until('left', (dock) => dock.phase === 'docked');
    expect(runNumbers(store)).toEqual(EACH_ONCE);
    expect(store.downloads.list().at(-1)).toMatchObject({ complete: true });
    expect(log.filter((line) => line.level === 'error')).toEqual([]);
  });

  it('a meter that sleeps through four HELLOs is woken and read', async () => {
    const meter = await ptyMeter({}, { sleepsThrough: 4 });
    const { until, store } = realDaemon([dockOf({ name: 'left', port: meter.where })]);
    await until('left', (dock) => dock.phase === 'docked');
    expect(runNumbers(store)).toEqual(EACH_ONCE);
  });

  it('a port that comes back under another name is found by its serial number', async () => {
    const meter = await ptyMeter();
    const folder = tempFolder();
    const [before, after] = [join(folder, 'ttyUSB0'), join(folder, 'ttyUSB3')];
    symlinkSync(meter.where, before);
    let path: string | undefined = before;
    const listPorts = async () => (path === undefined ? [] : [{ path, serialNumber: 'A50285BI' }]);
    const host = { ...realHost, listPorts, portsMark: async () => undefined };
    const { until, store } = realDaemon([dockOf({ name: 'left', usbSerial: 'A50285BI' })], { host });
    await until('left', (dock) => dock.phase === 'docked' && dock.port === before);
    path = undefined;
    await until('left', (dock) => dock.phase === 'absent' && dock.port === undefined);
    renameSync(before, after);
    path = after;
    await until('left', (dock) => dock.phase === 'docked' && dock.port === after);
    expect(runNumbers(store)).toEqual(EACH_ONCE);
    expect(store.downloads.list().map((d) => [d.complete, d.new])).toEqual([
      [true, TESTS],
      [true, 0],
    ]);
  });

  it('a port whose permission is taken away is said once, and read when it is given back', async () => {
    const meter = await ptyMeter();
    let isDenied = true;
    const host = {
      ...realHost,
      listPorts: async () => [],
      portsMark: async () => undefined,
      open: ((port, settings, events) => {
        if (isDenied) throw serialOpenFault(port, new Error(`Permission denied, cannot open ${port}`), 'linux');
        return openLink(port, settings, events);
      }) as typeof openLink,
    };
    const { until, store, log } = realDaemon([dockOf({ name: 'left', port: meter.where })], { host });
    await until('left', (dock) => dock.trouble?.code === 'PORT_DENIED');
    await new Promise((resolve) => setTimeout(resolve, 700)); // several tries
    expect(log.filter((line) => line.level === 'warn')).toHaveLength(1);
    isDenied = false;
    await until('left', (dock) => dock.phase === 'docked' && dock.trouble === undefined);
    expect(runNumbers(store)).toEqual(EACH_ONCE);
  });

  it('a port that another program uses is waited for', async () => {
    const meter = await ptyMeter();
    const other = await openLink(
      meter.where,
      { baud: 9600, openMs: 2000, writeMs: 2000, closeMs: 2000 },
      { data: () => {}, closed: () => {} },
    );
    const { until, store } = realDaemon([dockOf({ name: 'left', port: meter.where })]);
    await until('left', (dock) => dock.trouble?.code === 'PORT_BUSY');
    await other.close();
    await until('left', (dock) => dock.phase === 'docked');
    expect(runNumbers(store)).toEqual(EACH_ONCE);
  });

  it('a meter that talks endlessly is left, and its neighbour is read meanwhile', async () => {
    const [bad, good] = [await ptyMeter({ behaves: 'endless' }), await ptyMeter({}, {}, 'SN00043')];
    const docks = [dockOf({ name: 'bad', port: bad.where }), dockOf({ name: 'good', port: good.where })];
    const { until, store } = realDaemon(docks, { pace: { ...QUICK, helloMs: 60_000 } });
    await until('good', (dock) => dock.phase === 'docked');
    expect(store.downloads.list().filter((d) => d.meterId === 'SN00043')).toMatchObject([{ complete: true }]);
    await until('bad', (dock) => dock.trouble?.code === 'METER_ENDLESS');
  });

  it('a new test at a docked meter is in the store at once', async () => {
    const meter = await ptyMeter();
    const { until, store } = realDaemon([dockOf({ name: 'left', port: meter.where })]);
    await until('left', (dock) => dock.phase === 'docked');
    meter.test({ kind: 'patient', values: [{ analyte: 'INR', value: '2.4', unit: '{INR}' }] });
    await until('left', () => runNumbers(store).length === 7);
    expect(runNumbers(store)).toEqual([...EACH_ONCE, 7]);
  });

  it('a cable that vanishes with its name and comes back is read again', async () => {
    const meter = await ptyMeter();
    const link = join(tempFolder(), 'meter');
    symlinkSync(meter.where, link);
    const { until, store } = realDaemon([dockOf({ name: 'left', path: link })]);
    await until('left', (dock) => dock.phase === 'docked');
    rmSync(link);
    await until('left', (dock) => dock.phase === 'absent' && dock.port === undefined);
    symlinkSync(meter.where, link);
    await until('left', (dock) => dock.phase === 'docked');
    expect(store.downloads.list()).toHaveLength(2);
    expect(runNumbers(store)).toEqual(EACH_ONCE);
  });
});
