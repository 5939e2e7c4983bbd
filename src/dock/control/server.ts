/**
 * The daemon's side of the control channel: a local socket or pipe that only its owner may use. Never on the network.
 * A client that sends nonsense, nothing, or reads nothing costs a bounded amount of memory and nobody else's time.
 */
import { chmodSync, rmSync } from 'node:fs';
import { createServer, type Server, type Socket } from 'node:net';
import { asFault, Fault } from '../../core/fault.ts';
import { storeFault } from '../../store/store-faults.ts';
import type { Daemon, DaemonStatus } from '../daemon.ts';
import { makeLineCutter } from './lines.ts';
import { type AnswerToWrite, faultAnswer, MAX_REQUEST_BYTES, Request } from './messages.ts';

/** What the channel speaks for. */
export interface ControlOf {
  readonly address: string;
  readonly daemon: Daemon;
  /** Somebody asks the daemon to stop. Called at once; the channel stays open until it is closed. */
  readonly onStop: (how: 'clean' | 'now') => void;
}

export interface ControlServer {
  /** Ends every conversation and takes the address away. Resolves when that is done. */
  close(): Promise<void>;
}

/** Far more than one desk needs. */
const MAX_CLIENTS = 32;
/** How long a client may take to send its one line. */
const REQUEST_MS = 10_000;
/** A client that has this much unread is told only the newest status once it reads again. */
const FULL_BYTES = 65_536;

/** Opens the channel. Only the holder of the lock may call it: a socket that a dead daemon left is taken away. Throws STORE_DENIED. */
export async function openControl(control: ControlOf): Promise<ControlServer> {
  const sockets = new Set<Socket>();
  const server = createServer((socket) => {
    sockets.add(socket);
    socket.on('close', () => sockets.delete(socket));
    // `close` follows; a client that went away is no trouble of ours.
    socket.on('error', () => {});
    hear(socket, control);
  });
  server.maxConnections = MAX_CLIENTS;
  try {
    await listen(server, control.address);
  } catch (thrown) {
    throw storeFault(thrown, control.address);
  }
  return {
    close: () =>
      new Promise((resolve) => {
        server.close(() => resolve());
        for (const socket of sockets) socket.destroySoon();
      }),
  };
}

async function listen(server: Server, address: string): Promise<void> {
  const isFile = process.platform !== 'win32';
  if (isFile) rmSync(address, { force: true });
  // The file is made inside `listen`: nobody else may connect to it for not even a moment.
  const before = isFile ? process.umask(0o177) : undefined;
  try {
    await new Promise<void>((resolve, reject) => {
      server.once('error', reject);
      server.listen(address, () => {
        server.off('error', reject);
        resolve();
      });
      if (before !== undefined) process.umask(before);
    });
  } finally {
    if (before !== undefined) process.umask(before);
  }
  if (isFile) chmodSync(address, 0o600);
  // What goes wrong with one connection before it is ours must not end the daemon.
  server.on('error', () => {});
}

/** Waits for the one request of a client and answers it. */
function hear(socket: Socket, control: ControlOf): void {
  const cutter = makeLineCutter(MAX_REQUEST_BYTES);
  const impatient = setTimeout(() => socket.destroy(), REQUEST_MS).unref();
  socket.on('close', () => clearTimeout(impatient));
  socket.on('data', function onData(chunk: Buffer) {
    const lines = cutter.push(chunk);
    const [line] = lines;
    if (line === undefined) return;
    clearTimeout(impatient);
    // Whatever comes behind the request is not looked at, and must not pile up.
    socket.off('data', onData).resume();
    const request = lines === 'too-long' ? new Fault('CALL_WRONG', 'The request is too long', HINT) : parse(line);
    if (request instanceof Fault) finish(socket, { kind: 'fault', fault: faultAnswer(request) });
    else answer(socket, request, control).catch((thrown: unknown) => fail(socket, thrown));
  });
}

const HINT = 'Use the same version of tallydock on both sides of the control channel';
const fail = (socket: Socket, thrown: unknown): void =>
  finish(socket, { kind: 'fault', fault: faultAnswer(asFault(thrown)) });

function parse(line: string): Request | Fault {
  let json: unknown;
  try {
    json = JSON.parse(line);
  } catch {
    return new Fault('CALL_WRONG', 'The request is not JSON', HINT);
  }
  const parsed = Request.safeParse(json);
  if (parsed.success) return parsed.data;
  const [issue] = parsed.error.issues;
  return new Fault('CALL_WRONG', `The request is wrong at "${issue?.path.join('.') ?? ''}": ${issue?.message}`, HINT);
}

async function answer(socket: Socket, request: Request, { daemon, onStop }: ControlOf): Promise<void> {
  switch (request.op) {
    case 'status':
      return finish(socket, { kind: 'status', status: daemon.status() });
    case 'watch':
      return watch(socket, daemon);
    case 'figures': {
      const { troubles, ...figures } = daemon.figures();
      return finish(socket, {
        kind: 'figures',
        status: daemon.status(),
        figures: { ...figures, troubles: [...troubles] },
      });
    }
    case 'owns':
      return finish(socket, { kind: 'owns', owns: daemon.owns(request.port) });
    case 'collect': {
      const { op: _, ...call } = request;
      const { downloads, fault } = await daemon.collect(call);
      const told = fault ? { fault: faultAnswer(fault) } : {};
      return finish(socket, { kind: 'collected', downloads: downloads.map((d) => d.id), ...told });
    }
    case 'stop':
      send(socket, { kind: 'stopping', pid: process.pid });
      return onStop(request.how);
  }
}

/** The status now and after every change. A slow reader misses what was between. */
function watch(socket: Socket, daemon: Daemon): void {
  let behind: DaemonStatus | undefined;
  const tell = (status: DaemonStatus): void => {
    behind = socket.writableLength > FULL_BYTES ? status : undefined;
    if (!behind) send(socket, { kind: 'status', status });
  };
  tell(daemon.status());
  const unwatch = daemon.watch(tell);
  socket.on('drain', () => behind && tell(behind));
  socket.on('close', unwatch);
}

const send = (socket: Socket, message: AnswerToWrite): void => void socket.write(`${JSON.stringify(message)}\n`);
const finish = (socket: Socket, message: AnswerToWrite): void => void socket.end(`${JSON.stringify(message)}\n`);
