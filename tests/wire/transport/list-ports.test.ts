/** Listing ports: what USB tells, and what is left where the system cannot tell. */
import { describe, expect, it } from 'vitest';
import { listPorts, portsMark } from '../../../src/wire/transport/list-ports.ts';

const names = async (): Promise<string[]> => [
  'tty',
  'tty0',
  'ttyUSB10',
  'ttyUSB2',
  'ttyACM0',
  'ttyS0',
  'pts',
  'cu.usbserial-1',
  'null',
];

describe('the ports of this PC', () => {
  it('come in the order of their names, with USB ids in lower case', async () => {
    const list = async () => [
      { path: 'COM10', vendorId: '0403', productId: '6001', manufacturer: 'Port Alder Cables' },
      { path: 'COM2', vendorId: '1A86', productId: '7523', manufacturer: undefined },
    ];
    expect(await listPorts({ list, deviceNames: names })).toEqual([
      { path: 'COM2', vendorId: '1a86', productId: '7523' },
      { path: 'COM10', vendorId: '0403', productId: '6001', manufacturer: 'Port Alder Cables' },
    ]);
  });

  it('have the names by which people name them: one for each port, also on macOS', async () => {
    const on = (platform: NodeJS.Platform, ...paths: string[]) =>
      listPorts({ list: async () => paths.map((path) => ({ path })), deviceNames: names }, platform);
    expect(await on('darwin', '/dev/tty.usbserial-1420', '/dev/tty.Bluetooth-Incoming-Port')).toEqual([
      { path: '/dev/cu.Bluetooth-Incoming-Port' },
      { path: '/dev/cu.usbserial-1420' },
    ]);
    expect(await on('win32', 'COM12', 'COM3')).toEqual([{ path: 'COM3' }, { path: 'COM12' }]);
    expect(await on('linux', '/dev/ttyUSB0')).toEqual([{ path: '/dev/ttyUSB0' }]);
  });

  it('are read from the names of the devices where the system cannot list them', async () => {
    const list = async (): Promise<never> => {
      throw new Error('spawn udevadm ENOENT');
    };
    expect((await listPorts({ list, deviceNames: names })).map((port) => port.path)).toEqual([
      '/dev/cu.usbserial-1',
      '/dev/ttyACM0',
      '/dev/ttyS0',
      '/dev/ttyUSB2',
      '/dev/ttyUSB10',
    ]);
  });

  it('are none where neither can be done', async () => {
    const fail = async (): Promise<never> => {
      throw new Error('no');
    };
    expect(await listPorts({ list: fail, deviceNames: fail })).toEqual([]);
  });

  it('can be listed on this machine, whatever it has', async () => {
    for (const port of await listPorts()) expect(port.path.length).toBeGreaterThan(0);
    expect(Array.isArray(await listPorts())).toBe(true);
  });
});

describe('the mark of the ports', () => {
  const marked = (devices: Readonly<Record<string, number>>): Promise<string | undefined> =>
    portsMark({
      deviceNames: async () => Object.keys(devices),
      deviceNumber: async (name) => devices[name] ?? Promise.reject(new Error('gone')),
    });

  it('stays the same while only other devices come and go', async () => {
    expect(await marked({ ttyUSB1: 7, ttyUSB0: 6, tty9: 3 })).toBe(await marked({ ttyUSB0: 6, ttyUSB1: 7, loop0: 9 }));
  });

  it.each([
    ['comes', { ttyUSB0: 6, ttyACM0: 8 }],
    ['goes', {}],
    ['is made anew under its old name', { ttyUSB0: 11 }],
  ])('changes when a port %s', async (_what, devices) => {
    expect(await marked(devices)).not.toBe(await marked({ ttyUSB0: 6 }));
  });

  it('is told where there is no port, and not where the system has no folder of devices', async () => {
    expect(await marked({})).toBe('');
    const fail = async (): Promise<never> => Promise.reject(new Error('no'));
    expect(await portsMark({ deviceNames: fail, deviceNumber: fail })).toBeUndefined();
  });

  it.runIf(process.platform === 'linux')('can be told on this machine', async () => {
    expect(await portsMark()).toBe(await portsMark());
  });
});
