/**
 * A relay between a program and a server of this PC that can be taken away, stand still, or swallow one answer. What the
 * server was sent until then it has.
 */
import { once } from 'node:events';
import { connect, createServer, type Socket } from 'node:net';

export interface TcpProxy {
  readonly port: number;
  /** Refuses connections and cuts those that there are. */
  takeAway(): Promise<void>;
  /** Takes connections again, at the same port. */
  bringBack(): Promise<void>;
  /** Passes nothing on in either direction, or goes on. */
  stall(isStalled: boolean): void;
  /** Once the client has sent these words, cuts the connection at the first byte of the answer. */
  loseNextAnswerTo(words: string): void;
  close(): Promise<void>;
}

/** Opens a relay to a port. */
export async function tcpProxy(target: number): Promise<TcpProxy> {
  const sockets = new Set<Socket>();
  let isStalled = false;
  let lose: { words: string; isAsked: boolean } | undefined;
  const keep = (socket: Socket): Socket => {
    sockets.add(socket);
    socket.on('close', () => sockets.delete(socket));
    socket.on('error', () => {}); // one that is cut is what this is for
    return socket;
  };
  const server = createServer((client) => {
    keep(client);
    const upstream = keep(connect(target, '127.0.0.1'));
    client.on('data', (chunk) => {
      if (lose && chunk.includes(lose.words)) lose.isAsked = true;
      if (!isStalled) upstream.write(chunk);
    });
    upstream.on('data', (chunk) => {
      if (lose?.isAsked) {
        lose = undefined;
        client.destroy();
        upstream.destroy();
      } else if (!isStalled) client.write(chunk);
    });
    client.on('close', () => upstream.destroy());
    upstream.on('close', () => client.destroy());
  });
  const listen = async (port: number): Promise<number> => {
    server.listen(port, '127.0.0.1');
    await once(server, 'listening');
    const address = server.address();
    return address !== null && typeof address === 'object' ? address.port : 0;
  };
  const cut = (): void => {
    for (const socket of sockets) socket.destroy();
  };
  const takeAway = async (): Promise<void> => {
    if (!server.listening) return;
    const closed = once(server, 'close');
    server.close();
    cut();
    await closed;
  };
  const port = await listen(0);
  return {
    port,
    takeAway,
    bringBack: async () => void (await listen(port)),
    stall(wanted) {
      isStalled = wanted;
      // What was swallowed cannot come again: those who waited for it must begin anew.
      if (!wanted) cut();
    },
    loseNextAnswerTo(words) {
      lose = { words, isAsked: false };
    },
    close: takeAway,
  };
}
