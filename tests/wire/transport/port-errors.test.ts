/** What the port library's messages mean: texts as they were seen on each system. */
import { describe, expect, it } from 'vitest';
import { lostFault, serialOpenFault, tcpOpenFault } from '../../../src/wire/transport/port-errors.ts';

describe('an error at the opening of a serial port', () => {
  it.each([
    ['linux', '/dev/ttyUSB0', 'Error: No such file or directory, cannot open /dev/ttyUSB0', 'PORT_MISSING'],
    ['linux', '/dev/ttyUSB0', 'Error: Permission denied, cannot open /dev/ttyUSB0', 'PORT_DENIED'],
    ['linux', '/dev/ttyUSB0', 'Error Resource temporarily unavailable Cannot lock port', 'PORT_BUSY'],
    ['linux', '/dev/null', 'Error: Inappropriate ioctl for device setting custom baud rate of 9600', 'PORT_NOT_SERIAL'],
    ['linux', '/dev/ttyUSB0', 'Error: Input/output error, cannot open /dev/ttyUSB0', 'PORT_FAILED'],
    ['darwin', '/dev/cu.usb', 'Error: Resource busy, cannot open /dev/cu.usb', 'PORT_BUSY'],
    ['win32', 'COM3', 'Opening COM3: File not found', 'PORT_MISSING'],
    ['win32', 'COM3', 'Opening COM3: Access denied', 'PORT_BUSY'],
    ['win32', 'COM3', 'Opening COM3: Unknown error code 31', 'PORT_FAILED'],
  ])('on %s, port %s, "%s" is %s', (platform, port, message, code) => {
    const cause = new Error(message);
    const fault = serialOpenFault(port, cause, platform);
    expect(fault.code).toBe(code);
    expect(fault.message).toContain(port);
    expect(fault.hint.length).toBeGreaterThan(10);
    expect(fault.cause).toBe(cause);
  });

  it('is not read out of the name of the port', () => {
    const port = '/dev/no such file in use';
    expect(serialOpenFault(port, new Error(`Error: Input/output error, cannot open ${port}`), 'linux').code).toBe(
      'PORT_FAILED',
    );
  });
});

describe('an error at the connection to a device server', () => {
  it.each([
    ['ECONNREFUSED', 'PORT_MISSING'],
    ['ENOTFOUND', 'PORT_MISSING'],
    ['EHOSTUNREACH', 'PORT_MISSING'],
    ['EACCES', 'PORT_DENIED'],
    ['ECONNRESET', 'PORT_FAILED'],
  ])('%s is %s', (code, expected) => {
    const fault = tcpOpenFault('tcp://127.0.0.1:4001', Object.assign(new Error('x'), { code }));
    expect(fault.code).toBe(expected);
    expect(fault.message).toContain('tcp://127.0.0.1:4001');
  });
});

it('a port that went away keeps its cause', () => {
  const cause = new Error('bad file descriptor');
  expect(lostFault('COM3', cause)).toMatchObject({ code: 'PORT_LOST', cause });
});
