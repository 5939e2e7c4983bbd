/** What the docks do over hours, in simulated time: arrivals, exchanges, noise, ports that move, trouble that passes. */
import { describe, expect, it } from 'vitest';
import { Fault } from '../../src/core/fault.ts';
import { instant } from '../../src/core/instant.ts';
import type { DockConfig } from '../../src/dock/config.ts';
import type { Store } from '../../src/store/store.ts';
import { chanceFrom } from '../../src/virtual/chance.ts';
import type { TestFacts } from '../../src/virtual/memory.ts';
import { tempStore } from '../store/temp-store.ts';
import { meterWith } from '../support/meters.ts';
import { dockOf } from './made-up.ts';
import { type SimDaemon, type SimOptions, simDaemon as simDaemonOn, stopSim } from './sim-daemon.ts';
import { SIM_START, simMeter } from './sim-ports.ts';

const SECOND = 1000;
const MINUTE = 60 * SECOND;
const HOUR = 60 * MINUTE;
const SIM_NOON = instant(SIM_START + 9 * HOUR);

const inr = (text: string): TestFacts => ({
  kind: 'patient',
  values: [{ analyte: 'INR', value: text, unit: '{INR}' }],
});
const readings = (store: Store): number =>
  Number(store.db.statement<{ n: number }>('SELECT count(*) AS n FROM reading').get()?.n);
const meterOf = (tests: number, id = 'SN00042', over: object = {}) => ({ ...meterWith({ tests }), id, ...over });

/** A daemon with a store that is gone when the test ends. */
const simDaemon = (docks: readonly DockConfig[], options: Omit<SimOptions, 'store'> = {}): SimDaemon =>
  simDaemonOn(docks, { store: tempStore(), ...options });

/** One dock that knows its adapter by its serial number, with the adapter plugged in. */
function oneDock(): SimDaemon & { port: ReturnType<SimDaemon['ports']['add']> } {
  const sim = simDaemon([dockOf({ name: 'left', usbSerial: 'A1' })]);
  const port = sim.ports.add('/dev/ttyUSB0', 'A1');
  port.plug();
  return { ...sim, port };
}

describe('a dock', () => {
  it('reads a meter that is plugged in, and then leaves it alone but for a calm HELLO', async () => {
    const { port, until, store, pass, dock, ports } = oneDock();
    await until('left', (d) => d.trouble?.code === 'METER_SILENT');
    port.insert(simMeter(meterOf(10)));
    await until('left', (d) => d.phase === 'docked', 40 * SECOND);
    expect(store.downloads.list()).toMatchObject([{ complete: true, new: 10 }]);
    await pass(50 * MINUTE);
    expect(dock('left').phase).toBe('docked');
    expect(store.downloads.list()).toHaveLength(1);
    expect(Number(store.db.statement<{ n: number }>('SELECT count(*) AS n FROM capture').get()?.n)).toBe(1);
    expect(ports.openings()).toBe(1);
    await pass(15 * MINUTE);
    expect(store.downloads.list()).toMatchObject([{ new: 10 }, { complete: true, new: 0, known: 10 }]);
  });

  it('takes a test at once that is made at the dock', async () => {
    const { port, until, store, pass } = oneDock();
    port.insert(simMeter(meterOf(10)));
    await until('left', (d) => d.phase === 'docked');
    for (let n = 1; n <= 5; n++) {
      await pass(7 * MINUTE + n);
      port.test(inr('2.4'));
      await until('left', () => readings(store) === 10 + n, 10 * SECOND);
    }
    expect(store.downloads.list().map((d) => [d.complete, d.new])).toEqual([[true, 10], ...Array(5).fill([true, 1])]);
  });

  it('takes a test that ends while a download is being stored, also where the memory is full', async () => {
    const { port, until, store, time } = oneDock();
    const meter = simMeter({ ...meterWith({ tests: 10, capacity: 10 }) });
    port.insert(meter);
    await until('left', (d) => d.phase === 'storing');
    const { sends } = meter.step({ kind: 'test', at: time.now(), facts: inr('2.4') });
    expect(sends).toHaveLength(1);
    for (const { data } of sends) port.noise(data); // now, with no time on the line
    await until('left', () => readings(store) === 11, 10 * SECOND);
  });

  it('notices that a meter was exchanged for another within about a minute, and reads that', async () => {
    const { port, until, store, pass } = oneDock();
    port.insert(simMeter(meterOf(3, 'SN1')));
    await until('left', (d) => d.meter?.id === 'SN1' && d.phase === 'docked');
    await pass(10 * MINUTE);
    port.insert(simMeter(meterOf(4, 'SN2')));
    await until('left', (d) => d.meter?.id === 'SN2' && d.phase === 'docked', 70 * SECOND);
    expect(store.downloads.list().map((d) => [d.meterId, d.complete, d.new])).toEqual([
      ['SN1', true, 3],
      ['SN2', true, 4],
    ]);
  });

  it('reads a meter again that was taken away and put back, with the tests made meanwhile', async () => {
    const { port, until, store, pass, time } = oneDock();
    const meter = simMeter(meterOf(3));
    port.insert(meter);
    await until('left', (d) => d.phase === 'docked');
    port.remove();
    await until('left', (d) => d.phase === 'resting' && d.meter === undefined, 70 * SECOND);
    meter.step({ kind: 'test', at: time.now(), facts: inr('3.3') });
    await pass(20 * MINUTE);
    port.insert(meter);
    await until('left', (d) => d.phase === 'docked', 40 * SECOND);
    expect(store.downloads.list().map((d) => [d.complete, d.new])).toEqual([
      [true, 3],
      [true, 1],
    ]);
  });

  it('finds its adapter again under another name, and opens no port that is not its own', async () => {
    const { port, until, store, ports, pass } = oneDock();
    const foreign = ports.add('/dev/ttyUSB1', 'B2');
    foreign.plug();
    port.insert(simMeter(meterOf(3)));
    await until('left', (d) => d.phase === 'docked');
    port.unplug();
    await until('left', (d) => d.phase === 'absent', 20 * SECOND);
    await pass(HOUR);
    port.plug('/dev/ttyUSB7');
    await until('left', (d) => d.phase === 'docked' && d.port === '/dev/ttyUSB7', 20 * SECOND);
    expect(store.downloads.list()).toHaveLength(2);
    expect([...ports.opened]).toEqual(['/dev/ttyUSB0', '/dev/ttyUSB7']);
  });

  it('says the first failure and the recovery of a port that it may not open, and not every try', async () => {
    const { port, until, store, log, pass, ports } = oneDock();
    port.denied = 'Permission denied, cannot open /dev/ttyUSB0';
    port.insert(simMeter(meterOf(3)));
    await pass(6 * HOUR);
    expect(log.filter((line) => line.level === 'warn').map((line) => line.facts['code'])).toEqual(['PORT_DENIED']);
    // 1, 2, 4 ... 256 s, then every five minutes.
    expect(ports.openings()).toBeGreaterThan(70);
    expect(ports.openings()).toBeLessThan(90);
    port.denied = undefined;
    await until('left', (d) => d.phase === 'docked', 5 * MINUTE + 20 * SECOND);
    expect(log.filter((line) => line.message === 'all is well again')).toHaveLength(1);
    expect(store.downloads.list()).toHaveLength(1);
  });

  it('bears noise for an hour: keeps none of it, says it once, and reads the meter that comes then', async () => {
    const seed = 7;
    const { port, until, store, log, time, pass, ports } = oneDock();
    const chance = chanceFrom(seed);
    let isNoisy = true;
    const rattle = (): void => {
      if (!isNoisy) return;
      port.noise(Uint8Array.from({ length: chance.whole(1, 60) }, () => chance.whole(0, 255)));
      time.timers.after(chance.whole(5, 100), rattle);
    };
    rattle();
    await pass(HOUR);
    expect(Number(store.db.statement<{ n: number }>('SELECT count(*) AS n FROM capture').get()?.n)).toBe(0);
    expect(log.filter((line) => line.level === 'warn').map((line) => line.facts['code'])).toEqual(['METER_GARBLED']);
    expect(ports.openings()).toBeLessThan(30);
    isNoisy = false;
    port.insert(simMeter(meterOf(3)));
    await until('left', (d) => d.phase === 'docked', 6 * MINUTE);
    expect(store.downloads.list()).toMatchObject([{ complete: true, new: 3 }]);
  });

  it('keeps what was read when its adapter is pulled at any byte, and reads the rest after the replug', async () => {
    for (let bytes = 1; bytes < 620; bytes += 37) {
      const { port, until, store, daemon, time } = oneDock();
      port.insert(simMeter(meterOf(3)));
      port.unplugAfter(bytes);
      await until('left', (d) => d.phase === 'absent' && d.port === undefined, 70 * SECOND);
      port.plug();
      await until('left', (d) => d.phase === 'docked', 60 * SECOND);
      expect(readings(store)).toBe(3);
      expect(store.downloads.list().at(-1)?.complete).toBe(true);
      await stopSim({ daemon, time }, 'now');
    }
  });
});

describe('a collect that somebody asks the daemon for', () => {
  it('reads a docked meter once more, now', async () => {
    const { port, until, daemon, time, dock } = oneDock();
    port.insert(simMeter(meterOf(3)));
    await until('left', (d) => d.phase === 'docked');
    const asked = daemon.collect({ port: '/dev/ttyUSB0' });
    let isAnswered = false;
    void asked.then(() => {
      isAnswered = true;
    });
    await time.runUntilTrue(() => isAnswered, 20 * SECOND);
    expect(await asked).toMatchObject({ port: '/dev/ttyUSB0', downloads: [{ complete: true, new: 0, known: 3 }] });
    await until('left', (d) => d.phase === 'docked');
    expect(dock('left').trouble).toBeUndefined();
  });

  it('is answered with what is wrong where nobody is there, and where the port is not', async () => {
    const { port, until, daemon, time } = oneDock();
    await until('left', (d) => d.trouble?.code === 'METER_SILENT');
    const silent = daemon.collect({ port: '/dev/ttyUSB0' });
    await time.runUntil(instant(time.now() + 20 * SECOND));
    expect((await silent).fault).toMatchObject({ code: 'METER_SILENT' });
    port.unplug();
    await until('left', (d) => d.phase === 'absent' && d.port === undefined, 20 * SECOND);
    expect(daemon.owns('/dev/ttyUSB0')).toBe(false);
    expect((await daemon.collect({ port: '/dev/ttyUSB0' })).fault).toMatchObject({ code: 'PORT_MISSING' });
  });
});

describe('several docks', () => {
  it('are read at the same time: eight together take no longer than the slowest', async () => {
    const docks = Array.from({ length: 8 }, (_, i) => dockOf({ name: `dock ${i}`, usbSerial: `A${i}` }));
    const sim = simDaemon(docks);
    for (const [i] of docks.entries()) {
      const port = sim.ports.add(`/dev/ttyUSB${i}`, `A${i}`);
      port.plug();
      port.insert(simMeter(meterOf(i === 7 ? 200 : 20, `SN${i}`)));
    }
    const begun = sim.time.now();
    await sim.until('dock 0', (d) => d.phase === 'docked');
    const first = sim.time.now() - begun;
    for (let i = 0; i < 8; i++) await sim.until(`dock ${i}`, (d) => d.phase === 'docked');
    const all = sim.time.now() - begun;
    const slowest = sim.store.downloads.list().find((d) => d.meterId === 'SN7');
    expect(first).toBeLessThan(all / 2);
    expect(all).toBeLessThan((slowest?.durationMs ?? 0) + 5 * SECOND);
    expect(sim.store.downloads.list().map((d) => d.complete)).toEqual(Array(8).fill(true));
  });

  it('with two meters of one serial number but of two models read two meters', async () => {
    const sim = simDaemon([dockOf({ name: 'a', usbSerial: 'A' }), dockOf({ name: 'b', usbSerial: 'B' })]);
    for (const [i, model] of ['GM-10', 'GM-20'].entries()) {
      const port = sim.ports.add(`/dev/ttyUSB${i}`, 'AB'[i]);
      port.plug();
      port.insert(simMeter(meterOf(3 + i, 'SN1', { model })));
    }
    await sim.until('a', (d) => d.phase === 'docked');
    await sim.until('b', (d) => d.phase === 'docked');
    expect(sim.store.downloads.list().map((d) => [d.meterModel, d.new])).toEqual([
      ['GM-10', 3],
      ['GM-20', 4],
    ]);
    expect(sim.daemon.status().warnings).toEqual([]);
  });

  it('with two meters of one name say so, and lose and double nothing', async () => {
    const sim = simDaemon([dockOf({ name: 'a', usbSerial: 'A' }), dockOf({ name: 'b', usbSerial: 'B' })]);
    for (const [i, tests] of [5, 9].entries()) {
      const port = sim.ports.add(`/dev/ttyUSB${i}`, 'AB'[i]);
      port.plug();
      port.insert(simMeter({ ...meterWith({ tests, seed: 3 + i }), tellsRunNumbers: false }));
    }
    await sim.until('a', (d) => d.phase === 'docked');
    await sim.until('b', (d) => d.phase === 'docked');
    expect(sim.daemon.status().warnings).toEqual([
      expect.stringMatching(/GM-10 SN00042 is at docks "a" and "b" at once/),
    ]);
    expect(sim.log.filter((line) => line.level === 'warn')).toHaveLength(1);
    await sim.pass(5 * HOUR);
    expect(readings(sim.store)).toBe(14);
  });

  it('with two meters of one name, docked in turn at one dock, know each again and hold all', async () => {
    const sim = simDaemon([dockOf({ name: 'a', usbSerial: 'A' })]);
    const port = sim.ports.add('/dev/ttyUSB0', 'A');
    port.plug();
    const meters = [5, 9].map((tests, i) => simMeter({ ...meterWith({ tests, seed: 3 + i }), tellsRunNumbers: false }));
    for (const round of [0, 1, 2]) {
      for (const [i, meter] of meters.entries()) {
        if (round === 2) meter.step({ kind: 'test', at: SIM_NOON, facts: inr(`3.${i}`) });
        port.insert(meter);
        const before = sim.store.downloads.list().length;
        await sim.until('a', () => sim.store.downloads.list().length > before, 60 * SECOND);
        await sim.until('a', (d) => d.phase === 'docked', 60 * SECOND);
        port.remove();
        await sim.until('a', (d) => d.phase !== 'docked', HOUR);
      }
    }
    expect(sim.store.downloads.list().map((d) => d.new)).toEqual([5, 9, 0, 0, 1, 1]);
    const listed = [...sim.store.readings.pages({})].flat();
    expect(listed.map((reading) => reading.shown)).toEqual(Array(16).fill('held'));
    expect(sim.store.incidents.list().filter((i) => i.kind === 'identity-shared')).toHaveLength(1);
  });

  it('do not feel the trouble of one: it never ends, and the others are read as ever', async () => {
    const sim = simDaemon([dockOf({ name: 'bad', usbSerial: 'A' }), dockOf({ name: 'good', usbSerial: 'B' })]);
    const [bad, good] = [sim.ports.add('/dev/ttyUSB0', 'A'), sim.ports.add('/dev/ttyUSB1', 'B')];
    bad.plug();
    good.plug();
    const flood = (): void => {
      bad.noise(Buffer.from('#\n'.repeat(500)));
      sim.time.timers.after(20, flood);
    };
    flood();
    good.insert(simMeter(meterOf(3)));
    await sim.until('good', (d) => d.phase === 'docked', 20 * SECOND);
    await sim.until('bad', (d) => d.trouble?.code === 'METER_ENDLESS', 60 * SECOND);
    await sim.pass(30 * MINUTE);
    good.test(inr('2.2'));
    await sim.until('good', () => readings(sim.store) === 4, 10 * SECOND);
  });
});

describe('a meter that sends by itself over E1394', () => {
  const astmDock = () => {
    const sim = simDaemon([dockOf({ name: 'left', usbSerial: 'A1', profile: 'astm-generic-newest' })]);
    const port = sim.ports.add('/dev/ttyUSB0', 'A1');
    port.plug();
    return { ...sim, port };
  };

  it('is listened to day and night, and leaves nothing in the store until it sends', async () => {
    const { port, until, store, pass, dock, log } = astmDock();
    await pass(8 * HOUR);
    expect(dock('left').phase).toBe('identifying');
    expect(Number(store.db.statement<{ n: number }>('SELECT count(*) AS n FROM capture').get()?.n)).toBe(0);
    expect(log.filter((line) => line.level !== 'info')).toEqual([]);
    const meter = simMeter(meterOf(6), 'astm');
    port.insert(meter);
    await until('left', (d) => d.phase === 'docked', 60 * SECOND);
    expect(store.downloads.list()).toMatchObject([{ complete: true, new: 6 }]);
    port.remove();
    await pass(3 * HOUR);
    meter.step({ kind: 'test', at: SIM_NOON, facts: inr('3.1') });
    port.insert(meter);
    await until('left', () => readings(store) === 7, 60 * SECOND);
  });
});

describe('a dock that is to detect how its meter speaks', () => {
  it.each([
    ['line', 38_400],
    ['astm', 19_200],
    ['line', 1200],
  ] as const)('finds %s at %i baud, and keeps to it', async (protocol, baud) => {
    const sim = simDaemon([dockOf({ name: 'left', usbSerial: 'A1', detect: true })]);
    const port = sim.ports.add('/dev/ttyUSB0', 'A1');
    port.baud = baud;
    port.plug();
    const meter = simMeter(meterOf(4), protocol);
    port.insert(meter);
    await sim.until('left', (d) => d.phase === 'docked', 20 * MINUTE);
    expect(sim.store.downloads.list()).toMatchObject([{ complete: true, new: 4 }]);
    port.unplug();
    await sim.until('left', (d) => d.phase === 'absent', 20 * SECOND);
    port.plug();
    await sim.until('left', (d) => d.phase === 'docked', 20 * SECOND);
  });
});

describe('a store that takes nothing', () => {
  it('stops the reading before anything is lost, and goes on by itself when it does', async () => {
    let full: Fault | undefined = new Fault('STORE_FULL', 'Only 12 MB are left', 'Make room.');
    const sim = simDaemon([dockOf({ name: 'left', usbSerial: 'A1' })], { guard: () => full });
    const port = sim.ports.add('/dev/ttyUSB0', 'A1');
    port.plug();
    port.insert(simMeter(meterOf(4)));
    await sim.until('left', (d) => d.trouble?.code === 'STORE_FULL');
    await sim.pass(HOUR);
    expect(sim.store.downloads.list()).toEqual([]);
    full = undefined;
    await sim.until('left', (d) => d.phase === 'docked' && d.trouble === undefined, 6 * MINUTE);
    expect(sim.store.downloads.list()).toMatchObject([{ complete: true, new: 4 }]);
  });
});

describe('a daemon that is stopped', () => {
  it.each(['clean', 'now'] as const)('in the middle of a download keeps what was read (%s)', async (how) => {
    const { port, until, store, daemon, time, ports, timers } = oneDock();
    port.insert(simMeter(meterOf(100)));
    await until('left', (d) => (d.read ?? 0) > 20);
    await stopSim({ daemon, time }, how);
    expect(store.downloads.list()).toMatchObject([{ complete: false }]);
    expect(readings(store)).toBeGreaterThan(20);
    expect(ports.openLinks()).toBe(0);
    expect(timers()).toBe(0);
  });
});
