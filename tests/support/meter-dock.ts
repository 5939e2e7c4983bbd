/**
 * A place where virtual meters are docked and taken away again, for tests: a device server on TCP, or the cable of a
 * pseudo-terminal. The place stays whoever comes and goes, on either side of it.
 */
import { createServer, type Socket } from 'node:net';
import type { VirtualPort } from '../../src/virtual/port.ts';
import { openPty } from '../../src/virtual/pty.ts';

export interface MeterDock {
  /** What the gateway opens. */
  readonly where: string;
  /** Docks a meter; one that is there already is taken away first. */
  insert(meter: VirtualPort): void;
  /** Takes the meter away, in the middle of a word if need be. */
  remove(): void;
  close(): Promise<void>;
}

/** Told of everything that a docked meter sends. */
export type OnSent = (data: Uint8Array) => void;

/** A device server on a free TCP port of this computer. It takes every connection, and is silent while no meter is docked. */
export async function tcpDock(onSent: OnSent): Promise<MeterDock> {
  let inside: VirtualPort | undefined;
  let socket: Socket | undefined;
  const join = (): void => {
    const to = socket;
    if (!to) return;
    const write = (data: Uint8Array): void => {
      to.write(data);
      onSent(data);
    };
    inside?.open({ write, isFull: () => false, pull: () => {} });
  };
  const server = createServer({ noDelay: true }, (made) => {
    inside?.shut();
    socket?.destroy();
    socket = made;
    made.on('data', (data) => {
      if (made === socket) inside?.receive(data);
    });
    made.on('error', () => {}); // always followed by close
    made.on('close', () => {
      if (made !== socket) return;
      socket = undefined;
      inside?.shut();
    });
    join();
  });
  await new Promise<void>((resolve) => server.listen(0, '127.0.0.1', resolve));
  const address = server.address();
  return {
    where: `tcp://127.0.0.1:${typeof address === 'object' ? address?.port : 0}`,
    insert(meter) {
      inside?.shut();
      inside = meter;
      join();
    },
    remove() {
      inside?.shut();
      inside = undefined;
    },
    close() {
      inside?.shut();
      socket?.destroy();
      return new Promise((resolve) => void server.close(() => resolve()));
    },
  };
}

/** A pseudo-terminal. Nobody there can tell whether a host listens: a meter goes on talking when its host has died. */
export async function ptyDock(onSent: OnSent): Promise<MeterDock> {
  let inside: VirtualPort | undefined;
  const pty = await openPty((data) => inside?.receive(data));
  const remove = (): void => {
    inside?.shut();
    inside = undefined;
  };
  return {
    where: pty.path,
    insert(meter) {
      remove();
      inside = meter;
      const write = (data: Uint8Array): void => {
        pty.write(data);
        onSent(data);
      };
      meter.open({ write, isFull: () => false, pull: () => {} });
    },
    remove,
    async close() {
      remove();
      await pty.close();
    },
  };
}
