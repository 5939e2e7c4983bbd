/**
 * Serial device servers on the network as links: `tcp://host:port`, the raw bytes of the line in a TCP stream. Small
 * packets go out at once, and a silent peer that has vanished is noticed.
 */
import { once } from 'node:events';
import { Socket } from 'node:net';
import { Fault } from '../../core/fault.ts';
import { withDeadline } from './deadline.ts';
import type { OpenLink } from './link.ts';
import { lostFault, tcpOpenFault } from './port-errors.ts';

/** A line on which nothing comes for so long is asked, by the system, whether it is still there. */
const KEEP_ALIVE_MS = 10_000;

/** Host and port number of `tcp://host:port`; throws CALL_WRONG for anything else. IPv6 addresses stand in brackets. */
export function parseTcpName(name: string): { readonly host: string; readonly port: number } {
  const [, bracketed, plain, digits = ''] =
    /^tcp:\/\/(?:\[([0-9A-Fa-f:.%]+)\]|([^/:[\]\s]+)):(\d{1,5})\/?$/.exec(name) ?? [];
  const host = bracketed ?? plain;
  const port = Number(digits);
  if (host === undefined || port < 1 || port > 65_535)
    throw new Fault(
      'CALL_WRONG',
      `"${name}" is not a device server`,
      'Write it as tcp://host:port, with a port from 1 to 65535.',
    );
  return { host, port };
}

/** Connects to a device server. */
export const openTcp: OpenLink = async (name, settings, events) => {
  const address = parseTcpName(name);
  // Set here, not among what connect() is given: there Node passes over both without a word.
  const socket = new Socket().setNoDelay(true).setKeepAlive(true, KEEP_ALIVE_MS);
  let isOpen = false;
  let isAsked = false;
  let lastError: unknown;
  socket.on('error', (error) => {
    lastError = error; // `close` follows, and tells it on
  });
  socket.on('data', (chunk: Buffer) => events.data(chunk));
  socket.on('close', () => {
    if (!isOpen) return;
    isOpen = false;
    events.closed(isAsked ? undefined : lostFault(name, lastError));
  });

  socket.connect(address);
  try {
    await withDeadline(once(socket, 'connect'), settings.openMs, `Connecting to ${name}`);
  } catch (thrown) {
    socket.destroy();
    throw thrown instanceof Fault ? thrown : tcpOpenFault(name, thrown);
  }
  isOpen = true;

  const closeOnce = async (): Promise<void> => {
    if (!isOpen) return;
    isAsked = true;
    const gone = once(socket, 'close');
    socket.end();
    await withDeadline(gone, settings.closeMs, `Closing ${name}`).catch(() => undefined);
    socket.destroy();
    if (isOpen) {
      isOpen = false;
      events.closed();
    }
  };
  let closing: Promise<void> | undefined;
  return {
    port: name,
    async write(data) {
      if (!isOpen || isAsked) throw lostFault(name, lastError);
      const written = new Promise<void>((resolve, reject) => {
        socket.write(data, (error) => (error ? reject(lostFault(name, error)) : resolve()));
      });
      await withDeadline(written, settings.writeMs, `Sending to ${name}`);
    },
    close() {
      closing ??= closeOnce();
      return closing;
    },
  };
};
