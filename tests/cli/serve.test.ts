/** `tallydock serve` as a service manager runs it: the built program, real signals, meters that do not exist on real TCP. */
import { existsSync, readdirSync, readFileSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { afterEach, beforeEach, describe, expect, it } from 'vitest';
import type { Served } from '../../src/virtual/serve.ts';
import { type RunningDaemon, runDaemon, untilDock, untilWarned, writeDocks } from '../support/run-daemon.ts';
import { makeProgram, type Program } from '../support/run-program.ts';
import { type ServedMeterOptions, serveMeter } from '../support/served-meter.ts';

describe('tallydock serve', () => {
  let program: Program;
  const served: Served[] = [];
  const daemons: RunningDaemon[] = [];
  beforeEach(() => {
    program = makeProgram();
  });
  afterEach(async () => {
    await Promise.all(daemons.splice(0).map((daemon) => daemon.signal('SIGKILL')));
    await Promise.all(served.splice(0).map((meter) => meter.close()));
    program.dispose();
  });
  const meter = async (options: ServedMeterOptions = {}): Promise<string> => {
    const made = await serveMeter(options);
    served.push(made);
    return made.where;
  };
  const daemon = async (...args: string[]): Promise<RunningDaemon> => {
    const started = await runDaemon(program, ...args);
    daemons.push(started);
    return started;
  };
  /** A daemon at one meter, once that is read. */
  const daemonAt = async (port: string): Promise<RunningDaemon> => {
    writeDocks(program, [port]);
    const started = await daemon();
    await untilDock(program, (dock) => dock.phase === 'docked');
    return started;
  };
  const rows = async (...args: string[]): Promise<Record<string, unknown>[]> =>
    (await program.run(...args, '--json')).stdout
      .split('\n')
      .filter(Boolean)
      .map((line) => JSON.parse(line));

  it('says how to name a dock where none is named and no desk is served to assign one, and exits 2', async () => {
    writeFileSync(join(program.data, 'config.toml'), 'desk.enabled = false\n');
    const ran = await program.run('serve');
    expect(ran).toMatchObject({ code: 2, stdout: '' });
    expect(ran.stderr).toMatch(/^tallydock: [^\n]*config\.toml names no dock to watch\. [^\n]*\[CONFIG_INVALID\]\n$/);
    const example = /dock = \[.*?\]/.exec(ran.stderr)?.[0] ?? '';
    writeFileSync(join(program.data, 'config.toml'), example);
    await daemon(); // the example that it gives is one that it takes
  });

  it('takes the example of its help', async () => {
    const { stdout } = await program.run('serve', '--help');
    const example = stdout.slice(stdout.indexOf('zone ='), stdout.indexOf('Examples:'));
    expect(example).toContain('[[dock]]');
    writeFileSync(join(program.data, 'config.toml'), example);
    await daemon();
    const { docks } = JSON.parse((await program.run('status', '--json')).stdout);
    expect(docks.map((dock: { name: string }) => dock.name)).toEqual(['front desk', 'lent meters', 'room 2']);
  });

  it('names the line of a wrong config, and exits 2', async () => {
    writeFileSync(join(program.data, 'config.toml'), '[[dock]]\nname = "front desk"\nprot = "COM3"\n');
    const ran = await program.run('serve');
    expect(ran.code).toBe(2);
    expect(ran.stderr).toMatch(/config\.toml line 3: "prot".*\[CONFIG_INVALID\]\n$/);
  });

  it('reads a meter that is docked, and keeps every test', async () => {
    await daemonAt(await meter({ held: 30 }));
    expect(await rows('downloads')).toMatchObject([{ meter_id: 'PA-T001', complete: true, new: 30 }]);
    expect(await rows('readings')).toHaveLength(30);
  });

  it('says on stderr what happens, and nothing with --quiet', async () => {
    const loud = await daemonAt(await meter());
    expect(await loud.signal('SIGTERM')).toBe(0);
    expect(loud.said()).toMatch(/^\d{4}-\d\d-\d\d \d\d:\d\d:\d\d \(Europe\/Lisbon\) {2}started \(1 dock\)\n/);
    expect(loud.said()).toContain('meter read (D1, 30 new, 0 known)');
    expect(loud.said().trimEnd().endsWith('stopped')).toBe(true);
    const quiet = await daemon('--quiet');
    expect(await quiet.signal('SIGTERM')).toBe(0);
    expect(quiet.said()).toBe('');
  });

  it.each(['SIGTERM', 'SIGINT', 'SIGHUP'] as const)(
    'stops cleanly at %s, exits 0, and leaves nothing in the way of the next',
    async (signal) => {
      const port = await meter();
      expect(await (await daemonAt(port)).signal(signal)).toBe(0);
      expect(existsSync(join(program.data, 'control.sock'))).toBe(false);
      expect(await program.run('status')).toMatchObject({
        code: 1,
        stderr: expect.stringContaining('[DAEMON_MISSING]'),
      });
      await daemonAt(port);
    },
  );

  it('keeps a download in progress as incomplete at SIGTERM, exits 0, and reads the rest the next time', async () => {
    const port = await meter({ held: 60, faults: { baud: 19_200 } });
    writeDocks(program, [port]);
    const first = await daemon();
    await untilDock(program, (dock) => (dock.read ?? 0) > 5);
    expect(await first.signal('SIGTERM')).toBe(0);
    const [cut] = await rows('downloads');
    expect(cut).toMatchObject({ complete: false });
    const kept = await rows('readings');
    expect(kept.length).toBe(cut?.['new']);
    expect(kept.length).toBeGreaterThan(0);
    expect(kept.length).toBeLessThan(60);
    await daemonAt(port);
    expect(await rows('readings')).toHaveLength(60);
  });

  it('stops at once at the second signal, exits 1, and takes in at the next start what was read', async () => {
    const port = await meter({ held: 60, faults: { baud: 19_200 } });
    writeDocks(program, [port]);
    const first = await daemon();
    await untilDock(program, (dock) => (dock.read ?? 0) > 5);
    expect(await first.signal('SIGTERM', 'SIGINT')).toBe(1);
    expect(first.said()).toContain('stopped at once');
    await daemonAt(port);
    expect(await rows('readings')).toHaveLength(60);
    const downloads = await rows('downloads');
    expect(downloads[0]).toMatchObject({ complete: false });
    expect(downloads.reduce((sum, download) => sum + Number(download['new']), 0)).toBe(60);
  });

  it('refuses a second daemon with the process of the first, and does not disturb it', async () => {
    const first = await daemonAt(await meter());
    const second = await program.run('serve');
    expect(second).toMatchObject({ code: 1, stdout: '' });
    expect(second.stderr).toMatch(
      new RegExp(`^tallydock: [^\\n]*a daemon \\(process ${first.pid}, since [^\\n]*\\[DAEMON_RUNNING\\]\\n$`),
    );
    expect((await program.run('status')).code).toBe(0);
    expect(await first.signal('SIGTERM')).toBe(0);
  });

  it('starts again after kill -9, and has lost and doubled nothing', async () => {
    const port = await meter({ held: 60, faults: { baud: 19_200 } });
    writeDocks(program, [port]);
    const first = await daemon();
    await untilDock(program, (dock) => (dock.read ?? 0) > 5);
    expect(await first.signal('SIGKILL')).toBe('SIGKILL');
    expect(existsSync(join(program.data, 'control.sock'))).toBe(true); // what a dead daemon leaves behind
    await daemonAt(port);
    const readings = await rows('readings');
    expect(readings).toHaveLength(60);
    expect((await rows('downloads'))[0]).toMatchObject({ complete: false });
  });

  it('is stopped over its control channel by serve --stop, which waits for its end', async () => {
    const first = await daemonAt(await meter());
    expect(await program.run('serve', '--stop')).toEqual({ code: 0, stdout: '', stderr: 'The daemon has stopped.\n' });
    expect(await first.ended).toBe(0);
    expect(await program.run('serve', '--stop')).toMatchObject({
      code: 1,
      stderr: expect.stringContaining('[DAEMON_MISSING]'),
    });
  });

  it('is stopped at once by serve --stop --now, and exits 1', async () => {
    const first = await daemonAt(await meter());
    expect((await program.run('serve', '--stop', '--now', '--quiet')).code).toBe(0);
    expect(await first.ended).toBe(1);
  });

  it('names no patient, no operator and no meter in its log and on stderr', async () => {
    const running = await daemonAt(await meter({ held: 60 }));
    await running.signal('SIGTERM');
    const { stdout: csv } = await program.run('export', 'csv');
    const [head = '', ...lines] = csv.trim().split('\r\n');
    const columns = head.split(',');
    const named = ['patient_id', 'operator', 'meter_id'].map((column) => {
      const at = columns.indexOf(column);
      return new Set(lines.map((line) => line.split(',')[at]).filter((cell) => cell));
    });
    for (const names of named) expect(names.size).toBeGreaterThan(0);
    const logs = readdirSync(join(program.data, 'log')).map((name) =>
      readFileSync(join(program.data, 'log', name), 'utf8'),
    );
    const told = [...logs, running.said()].join('');
    expect(told).toContain('"download":"D1"');
    for (const names of named) for (const name of names) expect(told).not.toContain(name);
  });

  it('reads a port of its own for a collect, which says and exits as if it had read itself', async () => {
    const port = await meter({ held: 30 });
    await daemonAt(port);
    served[0]?.test({ kind: 'patient', values: [{ analyte: 'INR', value: '2.4', unit: '{INR}' }], flags: [] });
    const ran = await program.run('collect', port);
    expect(ran).toMatchObject({ code: 0, stderr: '' });
    expect(ran.stdout).toMatch(new RegExp(`^GM-10 PA-T001 on ${port}\\n`));
    expect(ran.stdout).toMatch(/31 of 31 tests read: [01] new, 3[01] known\. Nothing was deleted on the meter\./);
    const [json] = await rows('collect', port);
    expect(json).toMatchObject({ port, fault: null, downloads: [{ meter_id: 'PA-T001', complete: true, known: 31 }] });
    expect(await rows('readings')).toHaveLength(31);
  });

  it('lets a collect read a port that is not its own', async () => {
    await daemonAt(await meter());
    const ran = await program.run('collect', await meter({ id: 'PA-T002' }));
    expect(ran).toMatchObject({ code: 0, stdout: expect.stringContaining('PA-T002'), stderr: '' });
  });

  it('refuses a collect of its port with settings of another kind as PORT_BUSY, and names itself', async () => {
    const port = await meter();
    const running = await daemonAt(port);
    for (const [option, value] of [
      ['--profile', 'tlp-generic'],
      ['--baud', '19200'],
      ['--zone', 'Europe/Berlin'],
      ['--wait', '5'],
    ] as const) {
      const ran = await program.run('collect', port, option, value);
      expect(ran).toMatchObject({ code: 1, stdout: '' });
      expect(ran.stderr).toMatch(new RegExp(`process ${running.pid}, .*${option}.* \\[PORT_BUSY\\]\\n$`));
    }
  });

  it('ends with 1 where its own code breaks, says where but not what, and can start again', async () => {
    const bug = "process.on('SIGUSR2', () => { throw new TypeError('ANA-MOREIRA'); })";
    const broken = makeProgram({ NODE_OPTIONS: `--import "data:text/javascript,${encodeURIComponent(bug)}"` });
    writeDocks(broken, [await meter()]);
    const running = await runDaemon(broken);
    expect(await running.signal('SIGUSR2')).toBe(1);
    const [name = ''] = readdirSync(join(broken.data, 'log'));
    const log = readFileSync(join(broken.data, 'log', name), 'utf8');
    expect(log).toContain('"msg":"crashed"');
    expect(log).toContain('data:text/javascript');
    expect(running.said()).toMatch(/tallydock: The daemon broke \(TypeError\)\. [^\n]* \[INTERNAL\]\n$/);
    expect(log + running.said()).not.toContain('Error: ANA-MOREIRA');
    expect(await (await runDaemon(broken)).signal('SIGTERM')).toBe(0);
    broken.dispose();
  });

  it('makes the backups that the config asks for', async () => {
    const folder = join(program.data, 'copies');
    writeDocks(program, [await meter()], `[backup]\nfolder = '${folder}'\n`);
    const running = await daemon();
    await untilDock(program, (dock) => dock.phase === 'docked');
    expect(await running.signal('SIGTERM')).toBe(0);
    expect(readdirSync(folder).filter((name) => name.endsWith('.db'))).toHaveLength(1);
  });

  it('seals them where the config names a passphrase file, and they can be restored with it', async () => {
    const folder = join(program.data, 'copies');
    const words = join(program.data, 'words');
    writeFileSync(words, 'a gull over Port Alder\n', { mode: 0o600 });
    writeDocks(program, [await meter()], `[backup]\nfolder = '${folder}'\npassphrase-file = '${words}'\n`);
    const running = await daemon();
    await untilDock(program, (dock) => dock.phase === 'docked');
    expect(await running.signal('SIGTERM')).toBe(0);
    const [copy = '', ...more] = readdirSync(folder);
    expect([copy.endsWith('.sealed'), more]).toEqual([true, []]);
    const restored = await program.run(
      'restore',
      join(folder, copy),
      '--passphrase-file',
      words,
      '--data',
      join(program.data, 'restored'),
    );
    expect(restored.code).toBe(0);
  });

  it('reads on where no backup can be sealed, makes none, and says so in its status', async () => {
    const folder = join(program.data, 'copies');
    writeDocks(
      program,
      [await meter()],
      `[backup]\nfolder = '${folder}'\npassphrase-file = '${join(program.data, 'nowhere')}'\n`,
    );
    const running = await daemon();
    await untilDock(program, (dock) => dock.phase === 'docked');
    await untilWarned(program, 'The last backup failed: There is no file');
    expect(await running.signal('SIGTERM')).toBe(0);
    expect(existsSync(folder)).toBe(false);
  });
});
