/** Names of ports as people of each system write them. */
import { describe, expect, it } from 'vitest';
import { openLink } from '../../../src/wire/transport/open-link.ts';
import { plainPortName } from '../../../src/wire/transport/port-names.ts';

describe('the name of a port', () => {
  it.each([
    ['win32', 'COM3', 'COM3'],
    ['win32', 'com3', 'COM3'],
    ['win32', '\\\\.\\COM12', 'COM12'],
    ['win32', '\\\\?\\com12', 'COM12'],
    ['win32', '\\\\.\\pipe\\tallydock', '\\\\.\\pipe\\tallydock'],
    ['win32', 'COM', 'COM'],
    ['win32', 'telecom3', 'telecom3'],
    ['win32', '/dev/tty.usbserial-1420', '/dev/tty.usbserial-1420'],
    ['darwin', '/dev/tty.usbserial-1420', '/dev/cu.usbserial-1420'],
    ['darwin', '/dev/cu.usbserial-1420', '/dev/cu.usbserial-1420'],
    ['darwin', '/dev/ttys003', '/dev/ttys003'],
    ['darwin', 'com3', 'com3'],
    ['linux', '/dev/ttyUSB0', '/dev/ttyUSB0'],
    ['linux', '/dev/serial/by-id/usb-Port_Alder-if00', '/dev/serial/by-id/usb-Port_Alder-if00'],
    ['linux', 'com3', 'com3'],
  ] as const)('on %s written %s is %s', (platform, written, plain) => {
    expect(plainPortName(written, platform)).toBe(plain);
    expect(plainPortName(plain, platform)).toBe(plain);
  });

  it.each(['win32', 'darwin', 'linux'] as const)('of a device server is the same on %s', (platform) => {
    for (const name of ['tcp://com3:4001', 'tcp://192.0.2.10:4001', 'tcp://[2001:db8::1]:4001'])
      expect(plainPortName(name, platform)).toBe(name);
  });
});

describe('a device server whose name is not written as one', () => {
  it.each(['tcp:127.0.0.1:4001', 'tcp:/127.0.0.1:4001', 'TCP://127.0.0.1:4001', 'tcp://127.0.0.1'])(
    'is no serial port that is not plugged in: %s',
    async (name) => {
      const settings = {
        baud: 9600,
        bits: 8,
        parity: 'none',
        stopBits: 1,
        openMs: 1000,
        writeMs: 1000,
        closeMs: 1000,
      } as const;
      await expect(openLink(name, settings, { data() {}, closed() {} })).rejects.toMatchObject({
        code: 'CALL_WRONG',
        hint: 'Write it as tcp://host:port, with a port from 1 to 65535.',
      });
    },
  );
});
