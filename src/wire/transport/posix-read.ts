/**
 * Reading a serial port on Linux and macOS. The library reads once more, for ever, where a read brings nothing. That
 * is what each read brings once the device has hung up: a cable that is pulled while a read is on its way would never
 * be told, and would keep a core busy.
 */
import { read } from 'node:fs';
import { promisify } from 'node:util';
import { systemCode } from '../../core/system-code.ts';

/** What is used of the library's open port on Linux and macOS. */
export interface PolledPort {
  /** The file descriptor; null once the port is closed. */
  readonly fd: number | null;
  readonly poller: { once(event: 'readable', ready: (error: Error | null) => void): unknown };
  read(buffer: Buffer, offset: number, length: number): Promise<{ buffer: Buffer; bytesRead: number }>;
}

type ReadSome = (
  fd: number,
  buffer: Buffer,
  offset: number,
  length: number,
  position: null,
) => Promise<{ readonly bytesRead: number }>;

/** Whether the library's open port is one of Linux or macOS. */
export function isPolled(port: unknown): port is PolledPort {
  return typeof port === 'object' && port !== null && 'poller' in port && 'fd' in port;
}

/**
 * Lets a port that has hung up fail its read: after a read of nothing the port is waited for, and where it is ready
 * and still brings nothing, it is gone. A port that is closed meanwhile rejects as `canceled`, as the library does.
 */
export function failReadOnceGone(port: PolledPort, readSome: ReadSome = promisify(read)): void {
  const waitReadable = (): Promise<void> =>
    new Promise((resolve, reject) => {
      port.poller.once('readable', (error) => (error ? reject(error) : resolve()));
    });

  port.read = async (buffer, offset, length) => {
    let isEmpty = false;
    for (;;) {
      if (port.fd === null) throw Object.assign(new Error('Port is not open'), { canceled: true });
      const bytesRead = await readSome(port.fd, buffer, offset, length, null).then(
        (count) => count.bytesRead,
        (error: unknown) => {
          if (isTryAgain(error)) return undefined;
          throw error;
        },
      );
      if (bytesRead) return { buffer, bytesRead };
      if (bytesRead === 0 && isEmpty) throw new Error('The device hung up');
      isEmpty = bytesRead === 0;
      if (port.fd !== null) await waitReadable();
    }
  };
}

function isTryAgain(error: unknown): boolean {
  return ['EAGAIN', 'EWOULDBLOCK', 'EINTR'].includes(systemCode(error));
}
