/** `tallydock status`: the built program beside a daemon that shows what the test wants. */
import { once } from 'node:events';
import { writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { afterEach, beforeEach, describe, expect, it } from 'vitest';
import { statusText } from '../../src/cli/status-text.ts';
import { instant } from '../../src/core/instant.ts';
import { controlAddress } from '../../src/dock/control/address.ts';
import { type ControlServer, openControl } from '../../src/dock/control/server.ts';
import { takeLock } from '../../src/dock/lock.ts';
import type { HeldLock } from '../../src/store/held-lock.ts';
import { type FakeDaemon, fakeDaemon, STATUS } from '../dock/control/fake-daemon.ts';
import { readOpenMetrics } from '../dock/control/open-metrics-reader.ts';
import { makeProgram, type Program } from '../support/run-program.ts';
import { until } from '../support/until.ts';

describe('tallydock status', () => {
  let program: Program;
  let lock: HeldLock | undefined;
  let control: ControlServer | undefined;
  let daemon: FakeDaemon;
  beforeEach(() => {
    program = makeProgram();
    writeFileSync(join(program.data, 'config.toml'), 'zone = "Europe/Lisbon"\n');
    daemon = fakeDaemon();
  });
  afterEach(async () => {
    await stop();
    program.dispose();
  });
  const start = async (): Promise<void> => {
    const address = controlAddress(program.data);
    lock = takeLock(program.data, { pid: process.pid, since: instant(Date.UTC(2026, 2, 2)), control: address });
    control = await openControl({ address, daemon, onStop: () => {} });
  };
  const stop = async (): Promise<void> => {
    await control?.close();
    lock?.release();
    control = undefined;
    lock = undefined;
  };
  const well = { ...STATUS, docks: STATUS.docks.filter((dock) => !dock.trouble), warnings: [] };

  it('shows each dock: what it does, since when, the last trouble and what to do', async () => {
    await start();
    const ran = await program.run('status');
    expect(ran).toMatchObject({ code: 0, stderr: '' });
    expect(ran.stdout).toBe(`\
tallydock 0.1.0 runs as process 4711 since 2026-03-02 10:15 (Europe/Lisbon).

dock         port          what it does                                          since (Europe/Lisbon)  last read         download
-----------  ------------  ----------------------------------------------------  ---------------------  ----------------  --------
front desk   /dev/ttyUSB0  reads GM-10 PA-C001, 12 of 60 tests                   2026-03-02 10:16       not yet
room 2                     rests after trouble; tries again at 2026-03-02 10:18  2026-03-02 10:17       not yet
lent meters                waits for its port                                    2026-03-02 10:15       2026-03-02 09:15  D17

outlet       kind      what it does  waiting  oldest (Europe/Lisbon)  refused  last sent
-----------  --------  ------------  -------  ----------------------  -------  ----------------
head office  postgres  sends              12  2026-03-02 10:14              0  2026-03-02 10:13
research     csv       is paused           0                                0  not yet

room 2: Not allowed to open port /dev/ttyUSB1. Let this user use serial ports (on Linux: the group dialout), then sign in again. [PORT_DENIED, 2026-03-02 10:17]
Little room is left on the disk: 512 MB.
`);
  });

  it('shows everything as one JSON document, with null for what is not known', async () => {
    await start();
    const shown = JSON.parse((await program.run('status', '--json')).stdout);
    expect(shown).toMatchObject({ pid: 4711, started_at: '2026-03-02T10:15:00.000Z', warnings: STATUS.warnings });
    expect(shown.docks).toEqual([
      {
        name: 'front desk',
        port: '/dev/ttyUSB0',
        phase: 'reading',
        since: '2026-03-02T10:16:00.000Z',
        meter_id: 'PA-C001',
        meter_model: 'GM-10',
        read: 12,
        held: 60,
        last_download: null,
        last_download_at: null,
        trouble: null,
        next_try_at: null,
      },
      expect.objectContaining({
        name: 'room 2',
        port: null,
        trouble: expect.objectContaining({ code: 'PORT_DENIED', at: '2026-03-02T10:17:00.000Z' }),
        next_try_at: '2026-03-02T10:18:00.000Z',
      }),
      expect.objectContaining({ last_download: 'D17', last_download_at: '2026-03-02T09:15:00.000Z' }),
    ]);
  });

  it('is in the words of the dock for every phase', () => {
    const [dock] = STATUS.docks;
    if (!dock) throw new Error('no dock');
    const said = (
      ['absent', 'opening', 'identifying', 'reading', 'storing', 'setting', 'docked', 'resting'] as const
    ).map((phase) => statusText({ ...STATUS, docks: [{ ...dock, phase }] }, 'Europe/Lisbon').split('\n')[4]);
    expect(new Set(said).size).toBe(8);
    for (const line of said) expect(line).toMatch(/^front desk {2}\/dev\/ttyUSB0 {2}\w+/);
  });

  it('lets no control character of a meter reach the terminal', () => {
    const [dock] = STATUS.docks;
    if (!dock) throw new Error('no dock');
    const bad = { ...dock, meter: { id: '\u001b[2J', model: 'GM' } };
    const trouble = { code: 'METER_REFUSED' as const, message: 'said \u001b[2J', hint: 'x', at: STATUS.startedAt };
    expect(statusText({ ...STATUS, docks: [{ ...bad, trouble }] }, 'UTC')).not.toContain('\u001b');
  });

  it.each([['--health'], ['--metrics'], ['--watch'], ['--json'], ['--quiet']])(
    'with %s exits 1 and says so where no daemon runs',
    async (option) => {
      const ran = await program.run('status', option);
      expect(ran).toMatchObject({ code: 1, stdout: '' });
      expect(ran.stderr).toMatch(/^tallydock: No daemon runs on [^\n]* \[DAEMON_MISSING\]\n$/);
    },
  );

  it('--health exits 0 where all is well', async () => {
    daemon.show(well);
    await start();
    expect(await program.run('status', '--health')).toEqual({
      code: 0,
      stdout: 'Well: 2 docks, no trouble.\n',
      stderr: '',
    });
    expect(await program.run('status', '--health', '--json')).toMatchObject({
      code: 0,
      stdout: '{"well":true,"troubles":0,"warnings":0}\n',
    });
  });

  it('--health exits 3 where somebody should look', async () => {
    await start();
    expect(await program.run('status', '--health')).toEqual({
      code: 3,
      stdout: 'Works, but 2 to look at: run tallydock status.\n',
      stderr: '',
    });
    daemon.show({ ...well, warnings: ['x'] });
    expect((await program.run('status', '--health')).code).toBe(3);
    daemon.show({ ...STATUS, warnings: [] });
    expect((await program.run('status', '--health')).code).toBe(3);
  });

  it('--health takes an empty dock for no trouble, and status calls it what it is', async () => {
    const trouble = {
      code: 'METER_SILENT' as const,
      message: 'No meter named itself',
      hint: 'Wake it',
      at: instant(1),
    };
    daemon.show({ ...well, docks: [{ name: 'room 2', phase: 'resting', since: instant(1), trouble }] });
    await start();
    expect(await program.run('status', '--health')).toMatchObject({ code: 0, stdout: 'Well: 1 dock, no trouble.\n' });
    const { stdout } = await program.run('status');
    expect(stdout).toContain('waits for a meter');
    expect(stdout).toContain('No meter named itself. Wake it. [METER_SILENT');
  });

  it('--health exits 1 where a daemon holds the store and does not answer', async () => {
    lock = takeLock(program.data, { pid: process.pid, since: instant(1), control: controlAddress(program.data) });
    const ran = await program.run('status', '--health');
    expect(ran).toMatchObject({ code: 1, stdout: '', stderr: expect.stringContaining('[DAEMON_FAILED]') });
  });

  it('--metrics prints OpenMetrics text', async () => {
    await start();
    const ran = await program.run('status', '--metrics');
    expect(ran).toMatchObject({ code: 0, stderr: '' });
    const families = readOpenMetrics(ran.stdout);
    expect(families.get('tallydock_wire_bytes')).toMatchObject({
      type: 'counter',
      unit: 'bytes',
      samples: [{ value: 1_234_567 }],
    });
  });

  it.each([
    ['--health', '--metrics'],
    ['--watch', '--health'],
    ['--metrics', '--json'],
  ])('refuses %s beside %s', async (one, other) => {
    expect(await program.run('status', one, other)).toMatchObject({
      code: 2,
      stderr: expect.stringMatching(new RegExp(`${one}.*${other}|${other}.*${one}`)),
    });
  });

  it('--watch tells every change, and ends with the daemon', async () => {
    await start();
    const child = program.start('status', '--watch');
    let out = '';
    let err = '';
    child.stdout?.on('data', (chunk: Buffer) => {
      out += chunk.toString();
    });
    child.stderr?.on('data', (chunk: Buffer) => {
      err += chunk.toString();
    });
    const closed = once(child, 'close');
    await until(() => out.includes('Little room'));
    const before = out.length;
    daemon.show({ ...STATUS, docks: STATUS.docks.map((dock) => (dock.read ? { ...dock, read: 13 } : dock)) });
    await until(() => out.length > before);
    await stop();
    expect((await closed)[0]).toBe(0);
    expect(out.slice(before)).toMatch(
      /^\d{4}-.* \(Europe\/Lisbon\) {2}front desk: reads GM-10 PA-C001, 13 of 60 tests\n$/,
    );
    expect(err).toBe('The daemon has stopped.\n');
  });

  it('--watch ends at Ctrl+C with 0', async () => {
    await start();
    const child = program.start('status', '--watch', '--json');
    let out = '';
    child.stdout?.on('data', (chunk: Buffer) => {
      out += chunk.toString();
    });
    const closed = once(child, 'close');
    await until(() => out.endsWith('\n'));
    child.kill('SIGINT');
    expect((await closed)[0]).toBe(0);
    expect(JSON.parse(out)).toMatchObject({ pid: 4711 });
  });

  it('shows what the daemon does although the config has become wrong since it started', async () => {
    writeFileSync(join(program.data, 'config.toml'), 'zone = "Atlantis/Port_Alder"\n');
    await start();
    const ran = await program.run('status');
    expect(ran).toMatchObject({ code: 0, stderr: expect.stringContaining('[CONFIG_INVALID]') });
    expect(ran.stdout).toContain('since 2026-03-02 10:15 (UTC)');
  });
});
