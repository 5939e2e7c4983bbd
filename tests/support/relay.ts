/**
 * A way on the network between a gateway and a device server that can die without a word: nothing is forwarded in
 * either direction any more, and nothing is ever closed, so that neither end is told. Real TCP on 127.0.0.1.
 */
import { connect, createServer, type Socket } from 'node:net';

export interface Relay {
  /** Where the gateway connects to. */
  readonly where: string;
  /** From now on nothing comes through, on old connections and on new ones. */
  die(): void;
  /** The same, as soon as this many more bytes have come from the device server. */
  dieAfter(bytes: number): void;
  /** New connections come through again. Those of before stay dead, and the device server has given them up. */
  heal(): void;
  /** Connections that the gateway has opened, and those of them that it has left. */
  opened(): number;
  left(): number;
  /** Ends it and all its connections. */
  close(): void;
}

/** A relay to a device server, `tcp://host:port`. */
export async function relayTo(server: string): Promise<Relay> {
  const { hostname, port } = new URL(server);
  const sockets = new Set<Socket>();
  const servers = new Set<Socket>();
  let untilDeath = Number.POSITIVE_INFINITY;
  let opened = 0;
  let left = 0;
  const keep = (socket: Socket): Socket => {
    sockets.add(socket);
    return socket.on('error', () => {});
  };
  // Half-open: the relay never answers a goodbye with its own.
  const listener = createServer({ allowHalfOpen: true }, (gateway) => {
    keep(gateway);
    opened++;
    gateway.on('end', () => left++).resume();
    if (untilDeath === 0) return;
    const device = keep(connect(Number(port), hostname));
    servers.add(device);
    let isDead = false;
    gateway.on('data', (data) => {
      if (!isDead && untilDeath > 0) device.write(data);
    });
    device.on('data', (data) => {
      if (isDead || untilDeath === 0) return;
      gateway.write(data.subarray(0, untilDeath));
      untilDeath -= Math.min(untilDeath, data.length);
    });
    // Only a way that is alive tells the one end that the other has gone.
    gateway.on('end', () => {
      if (untilDeath > 0) device.end();
    });
    device.on('close', () => {
      if (!isDead && untilDeath > 0) gateway.end();
      isDead = true;
    });
  });
  await new Promise<void>((resolve) => listener.listen(0, '127.0.0.1', resolve));
  const address = listener.address();
  return {
    where: `tcp://127.0.0.1:${typeof address === 'object' ? address?.port : 0}`,
    die() {
      untilDeath = 0;
    },
    dieAfter(bytes) {
      untilDeath = bytes;
    },
    heal() {
      for (const device of servers) device.destroy();
      servers.clear();
      // What the giving up of the old ones brings about is over by the next turn.
      setImmediate(() => {
        untilDeath = Number.POSITIVE_INFINITY;
      });
    },
    opened: () => opened,
    left: () => left,
    close() {
      for (const socket of sockets) socket.destroy();
      listener.close();
    },
  };
}
