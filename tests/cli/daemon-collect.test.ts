/** A collect beside a daemon: who reads the port, and what is said where that goes wrong. */
import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterEach, beforeEach, describe, expect, it } from 'vitest';
import { namingDaemon, readByDaemon } from '../../src/cli/daemon-collect.ts';
import { Fault } from '../../src/core/fault.ts';
import { instant } from '../../src/core/instant.ts';
import { controlAddress } from '../../src/dock/control/address.ts';
import { type ControlServer, openControl } from '../../src/dock/control/server.ts';
import { takeLock } from '../../src/dock/lock.ts';
import type { Collected } from '../../src/intake/collect.ts';
import type { HeldLock } from '../../src/store/held-lock.ts';
import { openStore } from '../../src/store/open-store.ts';
import type { Store } from '../../src/store/store.ts';
import { fakeDaemon } from '../dock/control/fake-daemon.ts';

const OWN = '/dev/ttyUSB0';

describe('a collect beside a daemon', () => {
  let folder: string;
  let store: Store;
  let lock: HeldLock | undefined;
  let control: ControlServer | undefined;
  beforeEach(() => {
    folder = mkdtempSync(join(tmpdir(), 'tallydock-collect-'));
    store = openStore({ dir: folder, now: instant(1) });
  });
  afterEach(async () => {
    await control?.close();
    lock?.release();
    control = undefined;
    lock = undefined;
    store.close();
    rmSync(folder, { recursive: true, force: true });
  });
  const hold = (): string => {
    const address = controlAddress(folder);
    lock = takeLock(folder, { pid: process.pid, since: instant(1), control: address });
    return address;
  };
  const start = async (collected?: Promise<Collected>) => {
    const daemon = fakeDaemon(collected);
    control = await openControl({ address: hold(), daemon, onStop: () => {} });
    return daemon;
  };
  const read = (port: string, options = {}, signal = new AbortController().signal) =>
    readByDaemon({ folder, options, store, signal })(port);

  it('reads itself where no daemon runs', async () => {
    expect(await read(OWN)).toBeUndefined();
  });

  it('reads itself what is not a port of the daemon', async () => {
    const daemon = await start();
    expect(await read('/dev/ttyUSB9')).toBeUndefined();
    expect(daemon.calls).toEqual([]);
  });

  it('has the daemon read its own port, with the wish for the clock only where one was said', async () => {
    const daemon = await start();
    expect(await read(OWN)).toEqual({ port: OWN, downloads: [] });
    await read(OWN, { setClock: 'never' });
    expect(daemon.calls).toEqual([{ port: OWN }, { port: OWN, setClock: 'never' }]);
  });

  it('hands on the fault that the daemon met, with the exit code that it stands for', async () => {
    const fault = new Fault('DOWNLOAD_CUT', 'It ended before all was read', 'Run the same command again.');
    await start(Promise.resolve({ port: OWN, downloads: [], fault }));
    expect((await read(OWN))?.fault).toMatchObject({ code: 'DOWNLOAD_CUT', message: fault.message, exitCode: 3 });
  });

  it('does not touch a port while a daemon holds the store without answering', async () => {
    hold();
    expect((await read(OWN))?.fault).toMatchObject({
      code: 'PORT_BUSY',
      message: expect.stringContaining(`a daemon (process ${process.pid}, since`),
    });
  });

  it('says that the daemon reads on when a person leaves', async () => {
    const daemon = await start(new Promise(() => {}));
    const leave = new AbortController();
    const left = read(OWN, {}, leave.signal);
    while (daemon.calls.length === 0) await new Promise((resolve) => setImmediate(resolve));
    leave.abort();
    expect((await left)?.fault).toMatchObject({ code: 'DAEMON_FAILED', hint: expect.stringContaining('reads on') });
  });

  it('says so where the daemon ends in the middle', async () => {
    const daemon = await start(new Promise(() => {}));
    const reading = read(OWN);
    while (daemon.calls.length === 0) await new Promise((resolve) => setImmediate(resolve));
    await control?.close();
    expect((await reading)?.fault).toMatchObject({ code: 'DAEMON_FAILED' });
  });

  it('names the daemon where a port turns out to be busy, perhaps by another of its names', () => {
    const busy = { port: 'COM3', downloads: [], fault: new Fault('PORT_BUSY', 'Port COM3 is in use', 'Close it.') };
    expect(namingDaemon(busy, folder)).toBe(busy);
    hold();
    expect(namingDaemon(busy, folder).fault?.message).toContain(`process ${process.pid}`);
    const silent = { ...busy, fault: new Fault('METER_SILENT', 'x', 'y') };
    expect(namingDaemon(silent, folder)).toBe(silent);
  });
});
