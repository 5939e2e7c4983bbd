/**
 * Puts a virtual meter on a TCP port or on a pseudo-terminal, so that anything that can open a port can talk to it.
 */
import { createServer, type Socket } from 'node:net';
import { Fault } from '../core/fault.ts';
import type { TestFacts } from './memory.ts';
import type { VirtualMeter } from './meter.ts';
import type { VirtualPort } from './port.ts';
import { openPty } from './pty.ts';

/** A virtual meter that can be reached. */
export interface Served {
  /** The name to give to the gateway: `tcp://127.0.0.1:4001`, or the path of the pseudo-terminal. */
  readonly where: string;
  /** The meter as it is now. */
  meter(): VirtualMeter;
  /** A test ends on the meter now; told at once where a host listens. */
  test(facts: TestFacts): void;
  /** Resolves when the first host has gone again (TCP only; a pseudo-terminal cannot tell). */
  readonly firstGone: Promise<void>;
  /** Frees the port. Resolves when it is free. */
  close(): Promise<void>;
}

/** Bytes waiting unread from which on a meter that never stops pauses. */
const FULL = 65_536;

/**
 * Serves on 127.0.0.1; port 0 takes a free one. One host at a time: a second one is turned away. `holdsProcess` false:
 * the process may end although it serves. Throws PORT_BUSY or PORT_FAILED.
 */
export async function serveTcp(port: VirtualPort, tcpPort: number, holdsProcess = true): Promise<Served> {
  let current: Socket | undefined;
  let gone = (): void => {};
  const firstGone = new Promise<void>((resolve) => {
    gone = resolve;
  });
  const server = createServer({ noDelay: true }, (socket) => {
    if (current) {
      socket.destroy();
      return;
    }
    current = socket;
    socket.on('data', (data) => port.receive(data));
    // An error is always followed by close, where the meter learns that the host is gone.
    socket.on('error', () => {});
    socket.on('close', () => {
      gone();
      if (current !== socket) return;
      current = undefined;
      port.shut();
    });
    port.open({
      write: (data) => void socket.write(data),
      isFull: () => socket.writableLength > FULL,
      // What was written before goes out first; the next host is welcome at once.
      pull() {
        current = undefined;
        socket.end(() => socket.destroy());
      },
    });
  });
  await new Promise<void>((resolve, reject) => {
    server.once('error', (cause: NodeJS.ErrnoException) => {
      const busy = cause.code === 'EADDRINUSE';
      reject(
        new Fault(
          busy ? 'PORT_BUSY' : 'PORT_FAILED',
          busy ? `TCP port ${tcpPort} is in use` : `TCP port ${tcpPort} cannot be opened: ${cause.message}`,
          'Choose another port, or 0 for any free one.',
          { cause },
        ),
      );
    });
    server.listen(tcpPort, '127.0.0.1', resolve);
  });
  if (!holdsProcess) server.unref();
  const address = server.address();
  const number = typeof address === 'object' && address ? address.port : tcpPort;
  return {
    where: `tcp://127.0.0.1:${number}`,
    meter: port.meter,
    test: port.test,
    firstGone,
    close: () =>
      new Promise((resolve) => {
        current?.destroy();
        current = undefined;
        port.shut();
        server.close(() => resolve());
      }),
  };
}

/** Serves on a new pseudo-terminal. After a pulled cable it is there again, at the same path. Throws PTY_UNAVAILABLE. */
export async function servePty(port: VirtualPort): Promise<Served> {
  let waiting = 0;
  const pty = await openPty((data) => port.receive(data));
  const dock = (): void => {
    port.open({
      write: (data) => {
        waiting += data.length;
        pty.write(data, () => {
          waiting -= data.length;
        });
      },
      isFull: () => waiting > FULL,
      pull: () => void pty.replug().then(dock),
    });
  };
  dock();
  return {
    where: pty.path,
    meter: port.meter,
    test: port.test,
    firstGone: new Promise(() => {}),
    async close() {
      port.shut();
      await pty.close();
    },
  };
}
