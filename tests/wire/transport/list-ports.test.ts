/** Listing ports: what USB tells, and what is left where the system cannot tell. */
import { describe, expect, it } from 'vitest';
import { listPorts } from '../../../src/wire/transport/list-ports.ts';

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
