/**
 * Listens for the page in the browser. What the desk is made of is loaded when the first browser asks: a daemon whose
 * desk nobody opens stays as small as it was.
 */
import { readFileSync } from 'node:fs';
import { createServer as createPlainServer, type RequestListener, type Server, type ServerResponse } from 'node:http';
import { createServer as createTlsServer } from 'node:https';
import type { AddressInfo } from 'node:net';
import { asFault, Fault } from '../core/fault.ts';
import { stackPlaces } from '../core/stack-places.ts';
import { systemCode } from '../core/system-code.ts';
import type { DeskTools } from './tools.ts';

/** A desk that listens. */
export interface OpenDesk {
  /** Where a browser on this PC finds it. */
  readonly url: string;
  close(): Promise<void>;
}

/** A browser sends its headers at once; whoever sends them slowly is none. */
const HEADERS_MS = 10_000;
const REQUEST_MS = 60_000;

/** Listens where the settings say. Throws CONFIG_INVALID where that cannot be, FILE_UNREADABLE for its certificate. */
export async function openDesk(tools: DeskTools): Promise<OpenDesk> {
  const { address, port, tls } = tools.config().desk;
  let loading: Promise<RequestListener> | undefined;
  const load = async (): Promise<RequestListener> => {
    const [{ getRequestListener }, { makeDesk }] = await Promise.all([import('@hono/node-server'), import('./app.ts')]);
    const app = makeDesk(tools);
    return getRequestListener((request, env) => app.fetch(request, env), { overrideGlobalObjects: false });
  };
  const answer: RequestListener = (request, response) => {
    loading ??= load();
    loading.then(
      (listener) => listener(request, response),
      (thrown: unknown) => {
        const where = stackPlaces(thrown).slice(0, 5);
        tools.log.error({ code: asFault(thrown).code, system: systemCode(thrown), where }, 'desk failed');
        fail(response);
      },
    );
  };
  const server: Server = tls
    ? createTlsServer({ cert: readPem(tls.certificate), key: readPem(tls.key), minVersion: 'TLSv1.2' }, answer)
    : createPlainServer(answer);
  server.headersTimeout = HEADERS_MS;
  server.requestTimeout = REQUEST_MS;
  server.maxHeadersCount = 100;
  await new Promise<void>((resolve, reject) => {
    server.once('error', (cause) => reject(cannotListen(cause, address, port)));
    server.listen(port, address, resolve);
  });
  const { port: open } = server.address() as AddressInfo;
  const host = address.includes(':') ? `[${address}]` : address;
  return {
    url: `${tls ? 'https' : 'http'}://${host}:${open}/`,
    close: () =>
      new Promise((resolve) => {
        server.close(() => resolve());
        server.closeAllConnections();
      }),
  };
}

function fail(response: ServerResponse): void {
  response.writeHead(500, { 'content-type': 'text/plain; charset=utf-8' });
  response.end('The desk could not be started. The daemon goes on; its log says more.\n');
}

function readPem(file: string): Buffer {
  try {
    return readFileSync(file);
  } catch (cause) {
    throw new Fault(
      'FILE_UNREADABLE',
      `${file} cannot be read`,
      'Correct certificate and key of [desk] in config.toml.',
      {
        cause,
      },
    );
  }
}

function cannotListen(cause: NodeJS.ErrnoException, address: string, port: number): Fault {
  const what =
    systemCode(cause) === 'EADDRINUSE'
      ? `Port ${port} is taken by another program`
      : `The desk cannot listen at ${address}:${port}`;
  return new Fault(
    'CONFIG_INVALID',
    what,
    'Write another port into [desk] of config.toml, for instance port = 4781, and start the daemon again.',
    { cause },
  );
}
