/**
 * Serial ports as links. The library is loaded only when a serial port is opened. Each attempt makes a new port
 * object: one that lost its device never works again, and it may report its closing twice.
 */
import type { SerialPort } from 'serialport';
import { withDeadline } from './deadline.ts';
import type { Link, LinkEvents, LinkSettings, OpenLink } from './link.ts';
import { lostFault, serialOpenFault } from './port-errors.ts';
import { failReadOnceGone, isPolled } from './posix-read.ts';

/** What is used of the library's port class; its mock for tests fits too. */
export type SerialPortClass = new (options: {
  path: string;
  baudRate: number;
  dataBits: 7 | 8;
  parity: 'none' | 'even' | 'odd';
  stopBits: 1 | 2;
  autoOpen: false;
}) => Pick<SerialPort, 'open' | 'write' | 'close' | 'on' | 'once' | 'isOpen' | 'port'>;

/** Opens a serial port by its path or name. */
export const openSerial: OpenLink = async (port, settings, events) => {
  const { SerialPort } = await import('serialport');
  return openSerialWith(SerialPort, port, settings, events);
};

/** The same with a given port class. */
export async function openSerialWith(
  PortClass: SerialPortClass,
  port: string,
  settings: LinkSettings,
  events: LinkEvents,
): Promise<Link> {
  const device = new PortClass({
    path: port,
    baudRate: settings.baud,
    dataBits: settings.dataBits ?? 8,
    parity: settings.parity ?? 'none',
    stopBits: settings.stopBits ?? 1,
    autoOpen: false,
  });
  let stage: 'opening' | 'open' | 'closing' | 'closed' = 'opening';
  let lastError: unknown;
  // Ahead of the library's own waiting for `open`, which starts the first read.
  device.once('open', () => {
    if (isPolled(device.port)) failReadOnceGone(device.port);
  });
  // Without a data listener the library never reports that a device was unplugged.
  device.on('data', (chunk: Uint8Array) => {
    if (stage !== 'closed') events.data(chunk);
  });
  device.on('error', (error: unknown) => {
    lastError = error; // `close` follows, and tells it on
  });
  device.on('close', (error: unknown) => {
    if (stage === 'closed' || stage === 'opening') return;
    const wasAsked = stage === 'closing';
    stage = 'closed';
    events.closed(wasAsked ? undefined : lostFault(port, error ?? lastError));
  });

  const opened = new Promise<void>((resolve, reject) => {
    device.open((error) => (error ? reject(serialOpenFault(port, error, process.platform)) : resolve()));
  });
  try {
    await withDeadline(opened, settings.openMs, `Opening port ${port}`);
  } catch (thrown) {
    stage = 'closed';
    // A port that opens after its deadline is given back at once.
    opened.then(
      () => device.close(() => undefined),
      () => undefined,
    );
    throw thrown;
  }
  stage = 'open';

  const closeOnce = async (): Promise<void> => {
    if (stage === 'closed') return;
    stage = 'closing';
    const gone = new Promise<void>((resolve) => {
      device.close(() => resolve());
    });
    await withDeadline(gone, settings.closeMs, `Closing port ${port}`).catch(() => undefined);
    if (stage === 'closing') {
      stage = 'closed';
      events.closed();
    }
  };
  let closing: Promise<void> | undefined;
  return {
    port,
    async write(data) {
      if (stage !== 'open') throw lostFault(port, lastError);
      const written = new Promise<void>((resolve, reject) => {
        device.write(data, (error) => (error ? reject(lostFault(port, error)) : resolve()));
      });
      await withDeadline(written, settings.writeMs, `Sending to port ${port}`);
    },
    close() {
      closing ??= closeOnce();
      return closing;
    },
  };
}
