/**
 * An MLLP receiver for tests on a real port: keeps what it takes by MSH-10, answers with acknowledgements made by
 * another program's library, and can be made to fail at every point. Cuts its answers into single bytes, and reads the
 * stream by its own simple means.
 */

import type { AddressInfo } from 'node:net';
import { createServer, type Server, type Socket } from 'node:net';
import { createServer as createTlsServer, type TlsOptions } from 'node:tls';
import { Hl7Message } from '@medplum/core';

/** What the receiver does with a message. */
export type Behaviour =
  | {
      readonly kind: 'ack';
      readonly code: 'AA' | 'AE' | 'AR' | 'CA' | 'CE' | 'CR';
      readonly err?: string;
      readonly text?: string;
      readonly type?: string;
    }
  /** Takes it and never answers. */
  | { readonly kind: 'silence' }
  | { readonly kind: 'hang-up' }
  /** Stores it and closes before it answers. */
  | { readonly kind: 'store-and-hang-up' }
  /** Answers for another message first, then rightly. */
  | { readonly kind: 'stray-first' }
  /** Noise and a frame that is no message before the right answer. */
  | { readonly kind: 'noise-first' };

export interface Listener {
  readonly port: number;
  /** Every message that came, in order: MSH-10. */
  readonly came: string[];
  /** What is stored, once for each MSH-10. */
  readonly stored: Map<string, Hl7Message>;
  /** Behaviours for the next messages, in their order; then AA. */
  readonly next: Behaviour[];
  /** Messages that it refuses for their content, by MSH-10. */
  refuse: (controlId: string) => boolean;
  /** How many connections were made. */
  connections(): number;
  /** Closes the connections that are open, as a restart would. */
  restart(): Promise<void>;
  close(): Promise<void>;
}

export async function mllpListener(tls?: TlsOptions): Promise<Listener> {
  const came: string[] = [];
  const stored = new Map<string, Hl7Message>();
  const next: Behaviour[] = [];
  const sockets = new Set<Socket>();
  let connections = 0;

  const onSocket = (socket: Socket): void => {
    connections += 1;
    sockets.add(socket);
    socket.on('close', () => sockets.delete(socket));
    socket.on('error', () => {}); // a client that goes away is one way of closing
    let heard = '';
    socket.setEncoding('utf8').on('data', (chunk) => {
      heard += String(chunk);
      for (;;) {
        const end = heard.indexOf('\u001c\r');
        if (end < 0) return;
        const text = heard.slice(heard.indexOf('\u000b') + 1, end);
        heard = heard.slice(end + 2);
        answer(socket, Hl7Message.parse(text.replace(/\r$/, '')));
      }
    });
  };

  function answer(socket: Socket, message: Hl7Message): void {
    const id = message.header.getField(10).toString();
    came.push(id);
    const behaviour = next.shift() ?? { kind: 'ack', code: made.refuse(id) ? 'AE' : 'AA' };
    const say = (code: string, err = '', text = '', type = ''): void => {
      const ack = message.buildAck({ ackCode: 'AA' }).toString();
      const lines = ack.split('\r').map((line) => (line.startsWith('MSA|') ? `MSA|${code}|${id}|${text}` : line));
      const header = type
        ? lines[0]
            ?.split('|')
            .map((f, i) => (i === 8 ? type : f))
            .join('|')
        : lines[0];
      const whole = [header, ...lines.slice(1), ...(err ? [err] : [])].join('\r');
      // One byte a packet: borders mean nothing.
      socket.setNoDelay(true);
      for (const byte of Buffer.from(`\u000b${whole}\r\u001c\r`, 'utf8')) socket.write(Buffer.of(byte));
    };
    const store = (): void => void stored.set(id, message);
    switch (behaviour.kind) {
      case 'ack':
        if (behaviour.code === 'AA' || behaviour.code === 'CA') store();
        say(behaviour.code, behaviour.err, behaviour.text, behaviour.type);
        break;
      case 'silence':
        break;
      case 'hang-up':
        socket.destroy();
        break;
      case 'store-and-hang-up':
        store();
        socket.destroy();
        break;
      case 'stray-first':
        store();
        socket.write('\u000bMSH|^~\\&|||||||ACK|1|P|2.5.1\rMSA|AE|SOMETHING-ELSE\r\u001c\r');
        say('AA');
        break;
      case 'noise-first':
        store();
        socket.write('noise\u001c\r\u000bnot a message\u001c\r');
        say('AA');
        break;
    }
  }

  const server: Server = tls ? createTlsServer(tls, onSocket) : createServer(onSocket);
  server.on('tlsClientError', () => {}); // a client that does not trust us hangs up
  await new Promise<void>((resolve) => server.listen(0, '127.0.0.1', resolve));
  const drop = async (): Promise<void> => {
    const gone = [...sockets].map((socket) => new Promise((resolve) => socket.once('close', resolve)));
    for (const socket of sockets) socket.destroy();
    await Promise.all(gone);
  };
  const made: Listener = {
    port: (server.address() as AddressInfo).port,
    came,
    stored,
    next,
    refuse: () => false,
    connections: () => connections,
    restart: drop,
    async close() {
      const closed = new Promise<void>((resolve) => server.close(() => resolve()));
      await drop();
      await closed;
    },
  };
  return made;
}
