/** Which ports are collected: the ones named, or the one that is recognised. Nobody's port is opened unasked. */
import { describe, expect, it } from 'vitest';
import { choosePorts, recognise } from '../../src/cli/port-choice.ts';
import { libraryOf } from '../../src/intake/profile-library.ts';
import { parseProfile } from '../../src/wire/profile.ts';

const profile = (name: string, ...usb: { vendorId: string; productId: string }[]) =>
  parseProfile(JSON.stringify({ name, protocol: 'line', usb }), `${name}.json`);

const clinic = profile('clinic', { vendorId: '0A12', productId: '0001' });
const home = profile('home', { vendorId: '0a12', productId: '0002' });
const generic = profile('tlp-generic');
const library = libraryOf([clinic, home, generic]);

const clinicPort = { path: '/dev/ttyUSB0', vendorId: '0a12', productId: '0001' };
const homePort = { path: '/dev/ttyUSB1', vendorId: '0a12', productId: '0002' };
const printer = { path: '/dev/ttyS0' };
const seeing =
  (...ports: { path: string; vendorId?: string; productId?: string }[]) =>
  async () =>
    ports;
const names = (chosen: readonly { port: string; profile: { name: string } }[]) =>
  chosen.map((c) => `${c.port} ${c.profile.name}`);

describe('the choice of ports', () => {
  it('takes the ports that were named, in their order, with the profile of the call', async () => {
    const chosen = await choosePorts(['COM4', 'COM3'], 'home', library, seeing());
    expect(names(chosen)).toEqual(['COM4 home', 'COM3 home']);
  });

  it('reads a named port with the profile that recognises it, and any other with the default', async () => {
    const chosen = await choosePorts(['/dev/ttyUSB0', '/dev/ttyS0'], undefined, library, seeing(clinicPort, printer));
    expect(names(chosen)).toEqual(['/dev/ttyUSB0 clinic', '/dev/ttyS0 tlp-generic']);
  });

  it.each([
    ['win32', '\\\\.\\COM12', 'COM12'],
    ['win32', 'com12', 'COM12'],
    ['darwin', '/dev/tty.usbserial-1420', '/dev/cu.usbserial-1420'],
  ] as const)('on %s knows a port that was named as %s', async (platform, named, path) => {
    const there = seeing({ ...homePort, path });
    expect(names(await choosePorts([named], undefined, library, there, platform))).toEqual([`${path} home`]);
  });

  it('lets the profile of the call go before the recognised one', async () => {
    expect(names(await choosePorts(['/dev/ttyUSB0'], 'home', library, seeing(clinicPort)))).toEqual([
      '/dev/ttyUSB0 home',
    ]);
  });

  it('without a name takes the one port that is recognised', async () => {
    expect(names(await choosePorts([], undefined, library, seeing(printer, homePort)))).toEqual(['/dev/ttyUSB1 home']);
  });

  it.each([
    ['no port is there', [], 'shows no serial port'],
    ['none is recognised', [printer], '/dev/ttyS0'],
    ['several are recognised', [clinicPort, homePort], '/dev/ttyUSB0, /dev/ttyUSB1'],
  ])('without a name refuses where %s, and says which there are', async (_, ports, text) => {
    await expect(choosePorts([], undefined, library, seeing(...ports))).rejects.toMatchObject({
      code: 'CALL_WRONG',
      message: expect.stringContaining(text),
    });
  });

  it('refuses a profile that does not exist before it looks at any port', async () => {
    const never = async () => Promise.reject(new Error('the ports were listed'));
    await expect(choosePorts([], 'nobody', library, never)).rejects.toMatchObject({ code: 'PROFILE_UNKNOWN' });
  });

  it('recognises nothing where two profiles claim the same ids', () => {
    const twin = profile('twin', { vendorId: '0a12', productId: '0001' });
    expect(recognise(clinicPort, [clinic])?.name).toBe('clinic');
    expect(recognise(clinicPort, [clinic, twin])).toBeUndefined();
    expect(recognise(printer, [clinic, twin])).toBeUndefined();
  });
});
