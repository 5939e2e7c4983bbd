/**
 * What a port library's error means. The serial library gives no codes, so its message text is what there is to go
 * by; sockets give codes. One place, with tests, for both.
 */
import { Fault, type FaultCode } from '../../core/fault.ts';
import { systemCode } from '../../core/system-code.ts';

interface Meaning {
  readonly pattern: RegExp;
  readonly code: FaultCode;
  readonly sentence: (port: string) => string;
  readonly hint: string;
}

// In this order: a busy port on Windows says "Access denied", so that text is read per platform further down.
const SERIAL: readonly Meaning[] = [
  {
    pattern: /no such file|file not found|cannot find|enoent|no such device|not configured|enxio|enodev/i,
    code: 'PORT_MISSING',
    sentence: (port) => `There is no port ${port}`,
    hint: 'Plug the cable in, or see with `tallydock ports` how the port is named.',
  },
  {
    pattern: /cannot lock|temporarily unavailable|resource busy|device or resource busy|in use|ebusy/i,
    code: 'PORT_BUSY',
    sentence: (port) => `Port ${port} is in use by another program`,
    hint: 'Close the other program that uses this port, then try again.',
  },
  {
    pattern: /permission denied|access denied|eacces|eperm|not permitted/i,
    code: 'PORT_DENIED',
    sentence: (port) => `Not allowed to open port ${port}`,
    hint: 'Let this user use serial ports (on Linux: the group dialout), then sign in again.',
  },
  {
    pattern: /inappropriate ioctl|not a (tty|typewriter)|enotty|is a directory|eisdir/i,
    code: 'PORT_NOT_SERIAL',
    sentence: (port) => `${port} is not a serial port`,
    hint: 'Name a serial port such as /dev/ttyUSB0 or COM3, or a device server such as tcp://192.0.2.10:4001.',
  },
];

/** The fault of an attempt to open serial port `port`. `platform` is Node's name of the operating system. */
export function serialOpenFault(port: string, error: unknown, platform: string): Fault {
  const message = textOf(error).replaceAll(port, ' '); // a port's own name must not be read as a reason
  const isWindowsBusy = platform === 'win32' && /access denied/i.test(message);
  const meaning = SERIAL.find((m) => (isWindowsBusy ? m.code === 'PORT_BUSY' : m.pattern.test(message)));
  if (meaning) return new Fault(meaning.code, meaning.sentence(port), meaning.hint, { cause: error });
  return new Fault(
    'PORT_FAILED',
    `Port ${port} could not be opened: ${oneLine(textOf(error))}`,
    'Unplug the cable, plug it in again, and try once more.',
    { cause: error },
  );
}

/** The fault of an attempt to reach a device server. */
export function tcpOpenFault(port: string, error: unknown): Fault {
  const code = systemCode(error);
  if (code === 'ECONNREFUSED' || code === 'ENOTFOUND' || code === 'EAI_AGAIN' || code === 'EHOSTUNREACH')
    return new Fault(
      'PORT_MISSING',
      `Nothing answers at ${port}`,
      'Check that the device server is switched on, and its address and port number.',
      { cause: error },
    );
  if (code === 'EACCES' || code === 'EPERM')
    return new Fault('PORT_DENIED', `Not allowed to connect to ${port}`, 'Ask who looks after the network.', {
      cause: error,
    });
  return new Fault(
    'PORT_FAILED',
    `${port} could not be reached: ${oneLine(textOf(error))}`,
    'Check the network cable and the device server, then try again.',
    { cause: error },
  );
}

/** The fault of a port that went away while it was open. */
export const lostFault = (port: string, error?: unknown): Fault =>
  new Fault(
    'PORT_LOST',
    `Port ${port} went away`,
    'Plug the cable in again and collect once more; what was read so far is kept.',
    error === undefined ? {} : { cause: error },
  );

const textOf = (error: unknown): string => (error instanceof Error ? error.message : String(error));
const oneLine = (text: string): string => text.replace(/\s+/g, ' ').trim();
