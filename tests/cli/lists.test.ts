/** What was taken in, shown again: replay, lists, export, explain, rebuild, by the built program on a store of its own. */
import { existsSync, readdirSync, readFileSync, statSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { parse } from 'csv-parse/sync';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { CSV_COLUMNS } from '../../src/outlets/csv/csv-row.ts';
import { openSqlite } from '../../src/store/sqlite.ts';
import { generateHistory } from '../../src/virtual/history.ts';
import { formatCapture } from '../../src/wire/capture-file.ts';
import { makeProgram, type Program } from '../support/run-program.ts';
import { seedOr } from '../support/seed.ts';

const seed = seedOr(20260301);
const rowsOf = (ndjson: string): Record<string, unknown>[] =>
  ndjson
    .split('\n')
    .filter(Boolean)
    .map((line) => JSON.parse(line));
const csvOf = (text: string): Record<string, string>[] => parse(text, { columns: true, record_delimiter: '\r\n' });

describe(`a store that was filled by replay (SEED=${seed})`, () => {
  const line = generateHistory({
    seed,
    world: 'loss',
    protocol: 'line',
    zone: 'Europe/Lisbon',
    use: 'home',
    days: 200,
  });
  const astm = generateHistory({
    seed: seed + 1,
    world: 'drift-only',
    protocol: 'astm',
    zone: 'Europe/Lisbon',
    use: 'home',
    days: 200,
  });
  const told = [line, astm].flatMap((history) => history.tests.filter((test) => test.toldIn.length > 0));
  let program: Program;
  let files: string[];

  beforeAll(async () => {
    program = makeProgram();
    writeFileSync(join(program.data, 'config.toml'), 'zone = "Europe/Lisbon"\n');
    files = [...line.captures, ...astm.captures].map((capture, i) => {
      const file = join(program.data, `${String(i).padStart(2, '0')}.capture.jsonl`);
      writeFileSync(file, formatCapture(capture));
      return file;
    });
    const ran = await program.run('replay', ...files);
    expect(ran).toMatchObject({ code: 0, stderr: '' });
    expect(ran.stdout).toContain(`${files.length} files, ${told.length} new readings`);
  });
  afterAll(() => program.dispose());

  it('holds every test that was told, once', async () => {
    const rows = rowsOf((await program.run('readings', '--json')).stdout);
    expect(rows).toHaveLength(told.length);
    expect(new Set(rows.map((row) => row['reading_id'])).size).toBe(told.length);
  });

  it('does not change when the same files are given again', async () => {
    const before = (await program.run('export', 'csv')).stdout;
    const again = await program.run('replay', ...files);
    expect(again.stdout.split('\n').filter((text) => text.endsWith('taken in before, nothing changed'))).toHaveLength(
      files.length,
    );
    expect((await program.run('export', 'csv')).stdout).toBe(before);
  });

  it('is exported as CSV: the columns of the contract, one row for each value, each meter oldest first', async () => {
    const ran = await program.run('export', 'csv');
    expect(ran).toMatchObject({ code: 0, stderr: '' });
    const rows = csvOf(ran.stdout);
    expect(Object.keys(rows[0] ?? {})).toEqual([...CSV_COLUMNS]);
    const values = told.flatMap((test) => (test.kind === 'error' ? [''] : test.values.map((v) => v.value)));
    expect(rows.map((row) => row['value']).sort()).toEqual(values.sort());
    for (const history of [line, astm]) {
      const runs = rows.filter((row) => row['meter_id'] === history.meter.id).map((row) => row['meter_time'] ?? '');
      const truth = history.tests.filter((test) => test.toldIn.length > 0).map((test) => test.stamp);
      const once = runs.filter((stamp, i) => i === 0 || stamp !== runs[i - 1]);
      expect(once.map((stamp) => stamp.slice(0, 16))).toEqual(truth.map((stamp) => stamp.slice(0, 16)));
    }
  });

  it('keeps earliest, taken_at and latest in order in every row', async () => {
    for (const row of csvOf((await program.run('export', 'csv')).stdout)) {
      const [low, at, high] = ['earliest', 'taken_at', 'latest'].map((c) => row[c] ?? '');
      if (at && low) expect(low <= at, JSON.stringify(row)).toBe(true);
      if (at && high) expect(at <= high, JSON.stringify(row)).toBe(true);
    }
  });

  it('is exported to a file that only its owner may read, and leaves no draft behind', async () => {
    const file = join(program.data, 'out.csv');
    const ran = await program.run('export', 'csv', '--out', file);
    expect(ran).toMatchObject({ code: 0, stdout: '', stderr: `Wrote ${told.length} readings to ${file}\n` });
    expect(readFileSync(file, 'utf8')).toBe((await program.run('export', 'csv')).stdout);
    if (process.platform !== 'win32') expect(statSync(file).mode & 0o777).toBe(0o600);
    expect(readdirSync(program.data).filter((name) => name.includes('.part'))).toEqual([]);
    expect(await program.run('export', 'csv', '--quiet', '--out', file)).toEqual({ code: 0, stdout: '', stderr: '' });
  });

  it('says so where the file cannot be written', async () => {
    const ran = await program.run('export', 'csv', '--out', join(program.data, 'no', 'such', 'folder.csv'));
    expect(ran).toMatchObject({ code: 1, stdout: '', stderr: expect.stringContaining('[FILE_UNWRITABLE]') });
  });

  it('is filtered by meter, kind and time', async () => {
    const all = rowsOf((await program.run('readings', '--json')).stdout);
    const filtered = async (...args: string[]) => rowsOf((await program.run('readings', '--json', ...args)).stdout);
    expect(await filtered('--meter', line.meter.id)).toEqual(all.filter((row) => row['meter_id'] === line.meter.id));
    expect(await filtered('--kind', 'control')).toEqual(all.filter((row) => row['kind'] === 'control'));
    expect(await filtered('--meter', 'nobody')).toEqual([]);
    const since = String(all[5]?.['taken_at']);
    const later = await filtered('--since', since);
    expect(later.length).toBeGreaterThan(0);
    expect(later.every((row) => String(row['taken_at']) >= since)).toBe(true);
    expect(later.length + (await filtered('--until', since)).length).toBe(all.length);
  });

  it('lists readings for people with the zone named and no bare UTC', async () => {
    const { stdout } = await program.run('readings');
    expect(stdout).toContain('time (Europe/Lisbon)');
    expect(stdout).not.toMatch(/\d{2}:\d{2}:\d{2}Z/);
    expect(stdout).toContain(`${told.length} readings\n`);
  });

  it('lists downloads with the fields of the contract, oldest first', async () => {
    const rows = rowsOf((await program.run('downloads', '--json')).stdout);
    expect(rows).toHaveLength(files.length);
    for (const row of rows)
      expect(Object.keys(row).slice(0, 15)).toEqual([
        'id',
        'meter_id',
        'at',
        'complete',
        'held',
        'new',
        'known',
        'vanished',
        'possibly_lost',
        'clock_off_s',
        'clock_set',
        'bytes',
        'damaged_lines',
        'retries',
        'duration_s',
      ]);
    const times = rows.map((row) => String(row['at']));
    expect(times).toEqual([...times].sort());
    expect(rows.reduce((sum, row) => sum + Number(row['new']), 0)).toBe(told.length);
    expect((await program.run('downloads')).stdout).toContain('time (Europe/Lisbon)');
  });

  it('lists both meters, and what happened to their clocks', async () => {
    const meters = rowsOf((await program.run('meters', '--json')).stdout);
    expect(meters.map((row) => row['meter_id']).sort()).toEqual([line.meter.id, astm.meter.id].sort());
    expect((await program.run('meters')).stdout).toContain(line.meter.id);
    const incidents = rowsOf((await program.run('incidents', '--json')).stdout);
    for (const row of incidents)
      expect(Object.keys(row).slice(0, 7)).toEqual([
        'meter_id',
        'kind',
        'earliest',
        'latest',
        'size_s',
        'likely_cause',
        'explanation',
      ]);
    const losses = line.clockEvents.filter((event) => event.kind === 'power-loss').length;
    expect(losses).toBeGreaterThan(0);
    expect(incidents.some((row) => row['kind'] === 'power-loss' && row['meter_id'] === line.meter.id)).toBe(true);
    expect((await program.run('incidents')).stdout).toContain('power lost');
  });

  it('explains a reading down to its bytes, in both protocols', async () => {
    const rows = rowsOf((await program.run('readings', '--json')).stdout);
    for (const history of [line, astm]) {
      const row = rows.find((r) => r['meter_id'] === history.meter.id && r['kind'] === 'patient');
      const id = String(row?.['reading_id']);
      const text = (await program.run('explain', id)).stdout;
      expect(text).toContain(String(row?.['meter_time']));
      expect(text).toContain(history.protocol === 'line' ? 'REC i=' : '<STX>');
      const told = JSON.parse((await program.run('explain', id, '--json')).stdout);
      const bytes = Buffer.from(told.raw.data, 'base64').toString('latin1');
      expect(told.values.length).toBeGreaterThan(0);
      for (const { value } of told.values) expect(bytes).toContain(value);
      expect(bytes.endsWith('\r\n')).toBe(true);
      expect(told.versions.length).toBeGreaterThan(0);
      expect(told.told_in).toContain(told.source.download);
    }
  });

  it('does not know a reading that is not there', async () => {
    const ran = await program.run('explain', 'D99-1');
    expect(ran).toMatchObject({ code: 2, stdout: '' });
    expect(ran.stderr).toMatch(/^tallydock: [^\n]*D99-1[^\n]* \[READING_UNKNOWN\]\n$/);
  });

  it('is made again identically from its bytes', async () => {
    const ran = await program.run('rebuild');
    expect(ran).toMatchObject({
      code: 0,
      stderr: '',
      stdout: `Identical: everything was made again from ${files.length} conversations.\n`,
    });
    expect(JSON.parse((await program.run('rebuild', '--json')).stdout)).toMatchObject({
      differences: [],
      captures: files.length,
    });
  });

  it('reports a rebuild that differs, and keeps it only when told to', async () => {
    const db = openSqlite(join(program.data, 'tallydock.db'));
    db.prepare("UPDATE reading SET lot = 'changed' WHERE reading_id = (SELECT min(reading_id) FROM reading)").run();
    db.close();
    const ran = await program.run('rebuild');
    expect(ran).toMatchObject({ code: 1, stderr: expect.stringContaining('[REBUILD_DIFFERS]') });
    expect(ran.stdout).toMatch(/reading D\S+: lot changed -> /);
    expect((await program.run('rebuild', '--accept')).code).toBe(0);
    expect((await program.run('rebuild')).stdout).toContain('Identical');
  });
});

describe('files that are wrong', () => {
  const [capture] = generateHistory({ seed, world: 'drift-only', protocol: 'line', days: 60 }).captures;
  const good = capture ? formatCapture(capture) : '';
  let program: Program;
  beforeAll(() => {
    program = makeProgram();
  });
  afterAll(() => program.dispose());
  const write = (name: string, text: string): string => {
    const file = join(program.data, name);
    writeFileSync(file, text);
    return file;
  };

  it('a broken line is named with file and line; the files before it stay', async () => {
    const first = write('first.capture.jsonl', good);
    const lines = good.split('\n');
    lines[2] = lines[2]?.slice(0, -5) ?? '';
    const broken = write('broken.capture.jsonl', lines.join('\n'));
    const ran = await program.run('replay', first, broken);
    expect(ran.code).toBe(2);
    expect(ran.stdout).toContain('first.capture.jsonl: ');
    expect(ran.stderr).toMatch(/^tallydock: [^\n]*broken\.capture\.jsonl, line 3: [^\n]* \[CAPTURE_BROKEN\]\n$/);
    expect(rowsOf((await program.run('downloads', '--json')).stdout)).toHaveLength(1);
  });

  it('an unknown profile is named with its file', async () => {
    const file = write('strange.capture.jsonl', good.replace('tlp-generic', 'nobody'));
    const ran = await program.run('replay', file);
    expect(ran).toMatchObject({ code: 2, stdout: '' });
    expect(ran.stderr).toMatch(/strange\.capture\.jsonl.*nobody.*\[PROFILE_UNKNOWN\]/);
  });

  it('a file that is not there is named', async () => {
    const ran = await program.run('replay', 'nowhere.capture.jsonl');
    expect(ran).toMatchObject({
      code: 2,
      stdout: '',
      stderr: expect.stringMatching(/nowhere\.capture\.jsonl.*\[FILE_MISSING\]/),
    });
  });

  it('a store from a newer version is refused and left as it is', async () => {
    const file = join(program.data, 'tallydock.db');
    expect(existsSync(file)).toBe(true);
    const db = openSqlite(file);
    db.pragma('user_version = 9999');
    db.close();
    for (const args of [
      ['meters'],
      ['replay', join(program.data, 'first.capture.jsonl')],
      ['collect', 'tcp://127.0.0.1:1'],
    ])
      expect(await program.run(...args)).toMatchObject({
        code: 1,
        stdout: '',
        stderr: expect.stringMatching(/^tallydock: [^\n]+ \[STORE_NEWER\]\n$/),
      });
    const after = openSqlite(file, { readonly: true });
    expect(after.pragma('user_version', { simple: true })).toBe(9999);
    after.close();
  });
});
