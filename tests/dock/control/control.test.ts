/** The control channel: a client and a daemon over a real socket, and everything that can go wrong between the two. */
import { once } from 'node:events';
import { existsSync, mkdirSync, mkdtempSync, rmSync, statSync, writeFileSync } from 'node:fs';
import { connect, createServer } from 'node:net';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterEach, beforeEach, describe, expect, it } from 'vitest';
import { Fault } from '../../../src/core/fault.ts';
import { instant } from '../../../src/core/instant.ts';
import { controlAddress } from '../../../src/dock/control/address.ts';
import { controlClient } from '../../../src/dock/control/client.ts';
import { MAX_REQUEST_BYTES } from '../../../src/dock/control/messages.ts';
import { type ControlServer, openControl } from '../../../src/dock/control/server.ts';
import type { DaemonStatus } from '../../../src/dock/daemon.ts';
import { takeLock } from '../../../src/dock/lock.ts';
import type { Collected } from '../../../src/intake/collect.ts';
import type { HeldLock } from '../../../src/store/held-lock.ts';
import { type FakeDaemon, FIGURES, fakeDaemon, STATUS } from './fake-daemon.ts';

describe('the control channel', () => {
  let dir: string;
  let address: string;
  let lock: HeldLock;
  let daemon: FakeDaemon;
  let server: ControlServer | undefined;
  const stops: string[] = [];

  beforeEach(() => {
    dir = mkdtempSync(join(tmpdir(), 'tallydock-control-'));
    address = controlAddress(dir);
    lock = takeLock(dir, { pid: process.pid, since: instant(1), control: address });
    daemon = fakeDaemon();
    stops.length = 0;
  });
  afterEach(async () => {
    await server?.close();
    server = undefined;
    lock.release();
    rmSync(dir, { recursive: true, force: true });
  });
  const open = async (collected?: Promise<Collected>): Promise<void> => {
    if (collected) daemon = fakeDaemon(collected);
    server = await openControl({ address, daemon, onStop: (how) => stops.push(how) });
  };
  /** Sends raw text and gives everything that comes back. */
  const raw = async (text: string | Uint8Array): Promise<string> => {
    const socket = connect(address);
    let got = '';
    socket.on('data', (chunk: Buffer) => {
      got += chunk.toString();
    });
    socket.on('error', () => {});
    socket.write(text);
    await once(socket, 'close');
    return got;
  };

  it('tells the status and the figures exactly as the daemon shows them', async () => {
    await open();
    expect(await controlClient(dir).status()).toEqual(STATUS);
    expect(await controlClient(dir).figures()).toMatchObject({ status: STATUS, figures: FIGURES });
  });

  it("tells which ports are the daemon's", async () => {
    await open();
    expect(await controlClient(dir).owns('/dev/ttyUSB0')).toBe(true);
    expect(await controlClient(dir).owns('/dev/ttyUSB9')).toBe(false);
  });

  it('takes a collect to the daemon, and its downloads and its fault back', async () => {
    const fault = new Fault('DOWNLOAD_CUT', 'The download ended before all was read', 'Run the same command again.');
    const download = { id: 'D7' } as unknown as Collected['downloads'][number];
    await open(Promise.resolve({ port: 'COM3', downloads: [download], fault }));
    const collected = await controlClient(dir).collect({ port: 'COM3', setClock: 'never' });
    expect(collected.downloads).toEqual(['D7']);
    expect(collected.fault).toMatchObject({
      code: 'DOWNLOAD_CUT',
      message: fault.message,
      hint: fault.hint,
      exitCode: 3,
    });
    expect(daemon.calls).toEqual([{ port: 'COM3', setClock: 'never' }]);
  });

  it('lets a client leave a collect while the daemon reads on', async () => {
    await open(new Promise(() => {}));
    const leave = new AbortController();
    const left = controlClient(dir).collect({ port: 'COM3' }, leave.signal);
    leave.abort(new Error('left'));
    await expect(left).rejects.toThrow('left');
    expect(await controlClient(dir).status()).toEqual(STATUS);
  });

  it('streams every change of the status, and forgets a watcher that leaves', async () => {
    await open();
    const leave = new AbortController();
    const seen: DaemonStatus[] = [];
    const watching = controlClient(dir).watch((status) => {
      seen.push(status);
      if (seen.length < 4) daemon.show({ ...STATUS, warnings: [`change ${seen.length}`] });
      else leave.abort();
    }, leave.signal);
    await watching;
    expect(seen.map((status) => status.warnings)).toEqual([STATUS.warnings, ['change 1'], ['change 2'], ['change 3']]);
    while (daemon.watchers() > 0) await new Promise((resolve) => setImmediate(resolve));
    daemon.show(STATUS); // tells nobody, and nothing breaks
  });

  it('tells a watcher that reads slowly the newest status, without piling up what was between', async () => {
    await open();
    const socket = connect(address);
    socket.write('{"op":"watch"}\n');
    await once(socket, 'readable');
    const long = 'x'.repeat(1000);
    for (let i = 0; i < 5000; i++) daemon.show({ ...STATUS, warnings: [long, `change ${i}`] });
    let got = '';
    for await (const chunk of socket) {
      got += chunk;
      if (got.endsWith('\n') && got.includes('change 4999')) break;
    }
    expect(got.trim().split('\n').at(-1)).toContain('change 4999');
    expect(got.length).toBeLessThan(2_000_000); // of the 7 million that were shown
  });

  it('ends a watch when the daemon ends', async () => {
    await open();
    let told = 0;
    await controlClient(dir).watch(() => {
      told++;
      void server?.close();
    });
    expect(told).toBe(1);
  });

  it('passes on how to stop, and waits until the store is free for the next daemon', async () => {
    await open();
    let isFree = false;
    const stopped = controlClient(dir)
      .stop('clean')
      .then(() => isFree);
    while (stops.length === 0) await new Promise((resolve) => setImmediate(resolve));
    await server?.close();
    isFree = true;
    lock.release();
    expect(await stopped).toBe(true);
    expect(stops).toEqual(['clean']);
  });

  it('says that no daemon runs where none does', async () => {
    lock.release();
    for (const ask of [controlClient(dir).status(), controlClient(dir).stop('clean'), controlClient(dir).owns('COM3')])
      await expect(ask).rejects.toMatchObject({ code: 'DAEMON_MISSING', message: `No daemon runs on ${dir}` });
  });

  it('says that the daemon does not answer where its channel is not open', async () => {
    await expect(controlClient(dir).status()).rejects.toMatchObject({
      code: 'DAEMON_FAILED',
      message: expect.stringMatching(/^A daemon \(process \d+, since .+\) has no open control channel$/),
    });
  });

  it.each([
    ['nothing at all', undefined, 'did not answer within'],
    ['no JSON', 'hello\n', 'makes no sense'],
    ['an unknown kind', '{"kind":"song"}\n', 'makes no sense'],
    ['a status without its docks', '{"kind":"status","status":{}}\n', 'makes no sense'],
    ['the answer to another question', '{"kind":"owns","owns":true}\n', 'to another question'],
    ['an end without an answer', '', 'ended without an answer'],
  ])('says so where a daemon answers with %s', async (_, said, named) => {
    const sockets: { destroy(): void }[] = [];
    const strange = createServer((socket) => {
      sockets.push(socket);
      if (said !== undefined) socket.end(said);
    }).listen(address);
    await once(strange, 'listening');
    await expect(controlClient(dir, said === undefined ? 50 : undefined).status()).rejects.toMatchObject({
      code: 'DAEMON_FAILED',
      message: expect.stringContaining(named),
    });
    for (const socket of sockets) socket.destroy();
    await new Promise((resolve) => strange.close(resolve));
  });

  it.each([
    ['no JSON', 'hello\n', 'not JSON'],
    ['no request', '42\n', 'wrong'],
    ['an unknown operation', '{"op":"sing"}\n', 'op'],
    ['a field too many', '{"op":"status","please":true}\n', 'please'],
    ['a port that is none', '{"op":"owns","port":5}\n', 'port'],
    ['a line that is too long', `{"op":"owns","port":"${'x'.repeat(MAX_REQUEST_BYTES)}"}\n`, 'too long'],
    ['bytes that are no text', Buffer.from([0xff, 0xfe, 0x0a]), 'not JSON'],
  ])('answers %s with one fault, and goes on', async (_, text, named) => {
    await open();
    const answer = JSON.parse(await raw(text));
    expect(answer).toMatchObject({ kind: 'fault', fault: { code: 'CALL_WRONG' } });
    expect(answer.fault.message).toContain(named);
    expect(await controlClient(dir).status()).toEqual(STATUS);
  });

  it('ends a request that never ends', async () => {
    await open();
    expect(JSON.parse(await raw('x'.repeat(MAX_REQUEST_BYTES + 1))).fault.message).toContain('too long');
  });

  it('is not hurt by clients that leave in the middle', async () => {
    await open();
    for (const text of ['', '{"op":', '{"op":"watch"}\n', '{"op":"status"}\n']) {
      const socket = connect(address);
      await once(socket, 'connect');
      socket.write(text);
      socket.destroy();
    }
    expect(await controlClient(dir).status()).toEqual(STATUS);
  });

  it('turns clients away beyond a bound, and serves again once some have left', async () => {
    await open();
    const idle = Array.from({ length: 40 }, () => connect(address));
    let turnedAway = 0;
    for (const socket of idle) socket.on('close', () => turnedAway++).on('error', () => {});
    while (turnedAway < 8) await new Promise((resolve) => setImmediate(resolve));
    await expect(controlClient(dir).status()).rejects.toMatchObject({ code: 'DAEMON_FAILED' });
    expect(turnedAway).toBe(8);
    for (const socket of idle) socket.destroy();
    while (turnedAway < 40) await new Promise((resolve) => setImmediate(resolve));
    let status: unknown;
    while (!status)
      status = await controlClient(dir)
        .status()
        .catch(() => undefined);
    expect(status).toEqual(STATUS);
  });

  it("hands a daemon's own fault to the client with its code", async () => {
    await open(rejected(new Fault('STORE_FULL', 'No room left', 'Free some disk space.')));
    await expect(controlClient(dir).collect({ port: 'COM3' })).rejects.toMatchObject({ code: 'STORE_FULL' });
  });

  it('takes over the address that a dead daemon left', async () => {
    writeFileSync(address, '');
    await open();
    expect(await controlClient(dir).status()).toEqual(STATUS);
  });

  it('is for its owner only, and is taken away at the end', async () => {
    await open();
    expect(statSync(address).mode & 0o777).toBe(0o600);
    await server?.close();
    expect(existsSync(address)).toBe(false);
  });

  it('says so where it cannot listen', async () => {
    address = join(dir, 'no', 'such', 'folder');
    await expect(open()).rejects.toMatchObject({ code: 'STORE_DENIED' });
  });
});

/** A rejected promise that nobody has to hear. */
function rejected(fault: Fault): Promise<never> {
  const promise = Promise.reject(fault);
  promise.catch(() => {});
  return promise;
}

describe('the address of the control channel', () => {
  const made: string[] = [];
  afterEach(() => {
    for (const path of made.splice(0)) rmSync(path, { recursive: true, force: true });
  });
  const folder = (...below: string[]): string => {
    const path = mkdtempSync(join(tmpdir(), 'tallydock-address-'));
    made.push(path);
    return join(path, ...below);
  };

  it('is in the data folder', () => {
    const dir = folder();
    expect(controlAddress(dir, {}, 'linux')).toBe(join(dir, 'control.sock'));
  });

  it('is in the runtime folder where the path would be too long for a socket, and works there', async () => {
    const dir = folder('x'.repeat(60), 'y'.repeat(60));
    mkdirSync(dir, { recursive: true });
    const runtime = folder();
    const address = controlAddress(dir, { XDG_RUNTIME_DIR: runtime }, 'linux');
    expect(address.startsWith(join(runtime, 'tallydock-'))).toBe(true);
    expect(Buffer.byteLength(address)).toBeLessThanOrEqual(103);
    const lock = takeLock(dir, { pid: process.pid, since: instant(1), control: address });
    const server = await openControl({ address, daemon: fakeDaemon(), onStop: () => {} });
    expect(await controlClient(dir).status()).toEqual(STATUS);
    await server.close();
    lock.release();
  });

  it('counts bytes, not letters', () => {
    const dir = folder('ß'.repeat(50));
    expect(dir.length + '/control.sock'.length).toBeLessThan(103);
    expect(controlAddress(dir, { XDG_RUNTIME_DIR: folder() }, 'linux')).not.toContain('ß');
  });

  it('differs for two folders that are both too long', () => {
    const env = { XDG_RUNTIME_DIR: folder() };
    expect(controlAddress(`/${'a'.repeat(200)}`, env, 'linux')).not.toBe(
      controlAddress(`/${'b'.repeat(200)}`, env, 'linux'),
    );
  });

  it('is refused where the runtime folder is not ours or is too long itself', () => {
    const runtime = folder();
    writeFileSync(join(runtime, `tallydock-${process.getuid?.() ?? 0}`), '');
    expect(() => controlAddress(`/${'a'.repeat(200)}`, { XDG_RUNTIME_DIR: runtime }, 'linux')).toThrow();
    expect(() => controlAddress(`/${'a'.repeat(200)}`, { XDG_RUNTIME_DIR: folder('r'.repeat(120)) }, 'linux')).toThrow(
      expect.objectContaining({ code: 'STORE_DENIED', message: expect.stringContaining('too long') }),
    );
  });

  it('is a pipe on Windows that cannot be guessed', () => {
    const [one, two] = [controlAddress('C:\\data', {}, 'win32'), controlAddress('C:\\data', {}, 'win32')];
    expect(one).toMatch(/^\\\\\.\\pipe\\tallydock-[0-9a-f]{16}-[0-9a-f]{16}$/);
    expect(two).not.toBe(one);
  });
});
