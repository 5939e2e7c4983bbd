/** A bare TCP client for tests: sends bytes and gathers what comes until something holds. No protocol knowledge. */
import { once } from 'node:events';
import { connect, type Socket } from 'node:net';

export interface TcpHost {
  readonly socket: Socket;
  /** Everything that has come so far. */
  heard(): Buffer;
  send(data: string | Uint8Array): void;
  /** Resolves as soon as `holds` is true of what has come, or when the far end has closed. */
  until(holds: (heard: Buffer) => boolean): Promise<Buffer>;
  /** Resolves when the far end has closed. */
  closed(): Promise<Buffer>;
}

/** Connects to `tcp://host:port`. */
export async function tcpHost(where: string): Promise<TcpHost> {
  const url = new URL(where);
  const socket = connect(Number(url.port), url.hostname);
  let heard = Buffer.alloc(0);
  let isClosed = false;
  let changed = (): void => {};
  socket.on('data', (data) => {
    heard = Buffer.concat([heard, data]);
    changed();
  });
  socket.on('error', () => {}); // a reset by the far end is one way of closing
  socket.on('close', () => {
    isClosed = true;
    changed();
  });
  await once(socket, 'connect');
  const until = (holds: (heard: Buffer) => boolean): Promise<Buffer> =>
    new Promise((resolve) => {
      changed = () => {
        if (!holds(heard) && !isClosed) return;
        changed = () => {};
        resolve(heard);
      };
      changed();
    });
  return {
    socket,
    heard: () => heard,
    send: (data) => void socket.write(data),
    until,
    closed: () => until(() => false),
  };
}
