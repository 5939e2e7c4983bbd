/** `tallydock collect` as a person runs it: the built program, real TCP, meters that do not exist, things that go wrong. */
import { once } from 'node:events';
import { mkdirSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { afterEach, beforeEach, describe, expect, it } from 'vitest';
import type { Served } from '../../src/virtual/serve.ts';
import { makeProgram, type Program, type Ran } from '../support/run-program.ts';
import { type ServedMeterOptions, serveMeter } from '../support/served-meter.ts';

describe('tallydock collect', () => {
  let program: Program;
  const served: Served[] = [];
  beforeEach(() => {
    program = makeProgram();
  });
  afterEach(async () => {
    await Promise.all(served.splice(0).map((meter) => meter.close()));
    program.dispose();
  });
  const meter = async (options: ServedMeterOptions = {}): Promise<string> => {
    const made = await serveMeter(options);
    served.push(made);
    return made.where;
  };
  const collect = (...args: string[]): Promise<Ran> => program.run('collect', '--zone', 'Europe/Lisbon', ...args);
  const count = async (): Promise<number> =>
    (await program.run('readings', '--json')).stdout.split('\n').filter(Boolean).length;

  it('reads a meter whole, says what was new, and exits 0 without a word on stderr', async () => {
    const ran = await collect(await meter({ held: 30 }));
    expect(ran).toMatchObject({ code: 0, stderr: '' });
    expect(ran.stdout).toContain('30 of 30 tests read: 30 new, 0 known. Nothing was deleted on the meter.');
    expect(ran.stdout).toContain('Next: tallydock readings --meter PA-T001');
    expect(await count()).toBe(30);
  });

  it('finds everything known when it is run again, and stores nothing twice', async () => {
    const port = await meter();
    await collect(port);
    expect((await collect(port)).stdout).toContain('30 of 30 tests read: 0 new, 30 known.');
    expect(await count()).toBe(30);
  });

  it('finds the one test that was made in between', async () => {
    const port = await meter();
    await collect(port);
    served[0]?.test({ kind: 'patient', values: [{ analyte: 'INR', value: '2.4', unit: '{INR}' }], flags: [] });
    expect((await collect(port)).stdout).toContain('31 of 31 tests read: 1 new, 30 known.');
  });

  it('reads a meter that sends by itself', async () => {
    const ran = await collect(await meter({ protocol: 'astm' }), '--profile', 'astm-generic-newest', '--wait', '20');
    expect(ran).toMatchObject({ code: 0, stderr: '' });
    expect(ran.stdout).toContain('30 of 30 tests read: 30 new');
  });

  it('reads several meters at once', async () => {
    const ports = [await meter({ id: 'PA-T001' }), await meter({ id: 'PA-T002' }), await meter({ id: 'PA-T003' })];
    const ran = await collect(...ports);
    expect(ran.code).toBe(0);
    for (const id of ['PA-T001', 'PA-T002', 'PA-T003']) expect(ran.stdout).toContain(`GM-10 ${id} on`);
    expect(await count()).toBe(90);
  });

  it('prints JSON and nothing else on stdout when asked to', async () => {
    const ran = await collect(await meter(), '--json');
    const rows = ran.stdout
      .trim()
      .split('\n')
      .map((line) => JSON.parse(line));
    expect(rows).toHaveLength(1);
    expect(rows[0]).toMatchObject({
      fault: null,
      downloads: [{ meter_id: 'PA-T001', complete: true, new: 30, known: 0 }],
    });
  });

  it('puts a clock right that is off by more than a minute, unless told never to', async () => {
    const port = await meter({ clockOffMs: -192_000 });
    expect((await collect(port, '--set-clock', 'never')).stdout).toMatch(
      /Clock: 3 min 1[123] s slow; it was left as it is\./,
    );
    expect((await collect(port)).stdout).toMatch(/Clock: 3 min 1[123] s slow; set right just now\./);
    expect((await collect(port)).stdout).toContain('Clock: right.');
  });

  it('reminds after a power loss that the target range is gone too', async () => {
    const port = await meter({ clockLost: true });
    expect((await collect(port)).stdout).toContain('date, time and target range must be entered again.');
    expect((await collect(port)).stdout).not.toContain('lost power');
  });

  it('keeps what was read when the cable is pulled, exits 3, and completes when run again', async () => {
    const port = await meter({ held: 60, faults: { pullAfter: 3000 } });
    const cut = await collect(port);
    expect(cut.code).toBe(3);
    expect(cut.stdout).toMatch(/(\d+) of 60 tests read: \1 new, 0 known\. The rest was not read\./);
    expect(cut.stderr).toMatch(
      /^tallydock: .*PA-T001.* ended before all was read.*run the same command again.* \[DOWNLOAD_CUT\]\n$/,
    );
    const kept = await count();
    expect(kept).toBeGreaterThan(0);
    const whole = await collect(port);
    expect(whole.code).toBe(0);
    expect(whole.stdout).toContain(`60 of 60 tests read: ${60 - kept} new, ${kept} known.`);
    expect(await count()).toBe(60);
  });

  it('keeps the meters that could be read when another port is missing, and exits 3', async () => {
    const ran = await collect(await meter(), '/dev/tty-of-nobody');
    expect(ran.code).toBe(3);
    expect(ran.stdout).toContain('30 of 30 tests read');
    expect(ran.stderr).toMatch(/^tallydock: .*\/dev\/tty-of-nobody.* \[PORT_MISSING\]\n$/);
  });

  it('exits 1 with one line where no port could be opened', async () => {
    const ran = await collect('/dev/tty-of-nobody');
    expect(ran).toMatchObject({ code: 1, stdout: '' });
    expect(ran.stderr).toMatch(/^tallydock: [^\n]+ \[PORT_MISSING\]\n$/);
  });

  it('exits 1 where nothing answers at an address, and 2 where the address is none', async () => {
    const port = await meter();
    await served.splice(0)[0]?.close();
    expect(await collect(port)).toMatchObject({ code: 1, stderr: expect.stringContaining('[PORT_MISSING]') });
    expect(await collect('tcp://nowhere')).toMatchObject({ code: 2, stderr: expect.stringContaining('[CALL_WRONG]') });
  });

  it('says so where the meter stays silent', async () => {
    const ran = await collect(await meter({ faults: { behaves: 'silent' } }));
    expect(ran).toMatchObject({ code: 1, stdout: '' });
    expect(ran.stderr).toMatch(/^tallydock: [^\n]+ \[METER_SILENT\]\n$/);
  });

  it('keeps what was read when a person stops it', async () => {
    const port = await meter({ held: 80, faults: { baud: 19_200 } });
    const child = program.start('collect', port, '--json');
    let out = '';
    child.stdout?.on('data', (chunk: Buffer) => {
      out += chunk.toString();
    });
    const closed = once(child, 'close');
    await until(async () => child.exitCode !== null || (await chunks(program)) > 100); // a good part of a download
    child.kill('SIGINT');
    expect((await closed)[0]).toBe(3);
    const [row] = out
      .trim()
      .split('\n')
      .map((line) => JSON.parse(line));
    expect(row).toMatchObject({ downloads: [{ complete: false }], fault: { code: 'DOWNLOAD_CUT' } });
    expect(await count()).toBe(row.downloads[0].new);
    expect(row.downloads[0].new).toBeGreaterThan(0);
    expect((await collect(port)).code).toBe(0);
    expect(await count()).toBe(80);
  });

  it('exits 1 when a person stops it before anything was read', async () => {
    const child = program.start('collect', await meter({ faults: { behaves: 'silent' } }));
    let err = '';
    child.stderr?.on('data', (chunk: Buffer) => {
      err += chunk.toString();
    });
    const closed = once(child, 'close');
    await until(async () => (await chunks(program)) > 0); // HELLO was said
    child.kill('SIGINT');
    expect((await closed)[0]).toBe(1);
    expect(err).toMatch(/^tallydock: [^\n]+\n$/);
  });

  it.each([
    [['--profile', 'nobody'], 'PROFILE_UNKNOWN', 'nobody'],
    [['--zone', 'Atlantis/Port_Alder'], 'ZONE_UNKNOWN', 'Atlantis/Port_Alder'],
    [['--baud', '5'], 'CALL_WRONG', '--baud'],
    [['--wait', 'long'], 'CALL_WRONG', '--wait'],
    [['--set-clock', 'perhaps'], 'CALL_WRONG', '--set-clock'],
    [['--speed', '9600'], 'CALL_WRONG', '--speed'],
  ])('with %j exits 2, names what is wrong and opens nothing', async (args, code, named) => {
    const ran = await program.run('collect', 'tcp://127.0.0.1:1', ...args);
    expect(ran).toMatchObject({ code: 2, stdout: '' });
    expect(ran.stderr).toMatch(new RegExp(`^tallydock: [^\\n]*${named}[^\\n]* \\[${code}\\]\\n$`));
  });

  it('without a port exits 2 where none is recognised', async () => {
    const ran = await program.run('collect');
    expect(ran).toMatchObject({ code: 2, stdout: '', stderr: expect.stringContaining('No port was named') });
  });

  it('names a port twice only once', async () => {
    expect(await collect('COM3', 'COM3')).toMatchObject({
      code: 2,
      stderr: expect.stringContaining('COM3 is named twice'),
    });
  });

  it('names the line of a wrong config, and the field of a wrong profile', async () => {
    writeFileSync(join(program.data, 'config.toml'), 'zone = "Europe/Lisbon"\nzon = "x"\n');
    const config = await program.run('collect', 'COM3');
    expect(config).toMatchObject({
      code: 2,
      stderr: expect.stringMatching(/config\.toml line 2: "zon".*\[CONFIG_INVALID\]/),
    });
    writeFileSync(join(program.data, 'config.toml'), '');
    mkdirSync(join(program.data, 'meters'));
    writeFileSync(join(program.data, 'meters', 'mine.json'), '{"name":"mine","protocol":"line","bauds":1}');
    const profile = await program.run('collect', 'COM3', '--profile', 'mine');
    expect(profile.code).toBe(2);
    expect(profile.stderr).toMatch(/mine\.json: field "bauds".*\[PROFILE_INVALID\]/);
  });
});

/** Chunks of conversations that are still open. */
async function chunks(program: Program): Promise<number> {
  const { openSqlite } = await import('../../src/store/sqlite.ts');
  try {
    const db = openSqlite(join(program.data, 'tallydock.db'), { readonly: true, fileMustExist: true });
    try {
      return Number(db.prepare('SELECT count(*) FROM capture_chunk').pluck().get());
    } finally {
      db.close();
    }
  } catch {
    return 0; // not made yet
  }
}

async function until(holds: () => Promise<boolean>): Promise<void> {
  while (!(await holds())) await new Promise((resolve) => setTimeout(resolve, 20));
}
