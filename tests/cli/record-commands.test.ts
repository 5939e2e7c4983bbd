/**
 * A clinic's first days at the command line: people from a table, a lent and a shared meter, what waits and what is
 * decided about it, and the registers. Runs the commands in this process.
 */
import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, afterEach, beforeAll, describe, expect, it, vi } from 'vitest';
import { run } from '../../src/cli/program.ts';
import { instant } from '../../src/core/instant.ts';
import { formatCapture } from '../../src/wire/capture-file.ts';
import { captureOf, stampAt, type ToldTest } from '../intake/told-meter.ts';

const T0 = Date.UTC(2026, 0, 10, 9, 0, 0);
const DAY = 86_400_000;

let folder = '';
beforeAll(() => {
  folder = mkdtempSync(join(tmpdir(), 'tallydock-record-'));
  writeFileSync(join(folder, 'config.toml'), 'zone = "Europe/Lisbon"\n');
});
afterAll(() => rmSync(folder, { recursive: true, force: true }));
afterEach(() => vi.restoreAllMocks());

/** Runs one command on the folder and gives what it printed. */
async function call(...args: string[]): Promise<{ code: number; stdout: string; stderr: string }> {
  const printed = { stdout: '', stderr: '' };
  for (const stream of ['stdout', 'stderr'] as const)
    vi.spyOn(process[stream], 'write').mockImplementation((text, ...rest) => {
      printed[stream] += String(text);
      for (const done of rest) if (typeof done === 'function') done();
      return true;
    });
  const code = await run([...args, '--data', folder]);
  vi.restoreAllMocks();
  return { code, ...printed };
}

type Row = Readonly<Record<string, unknown>>;

/** The rows of a command with --json that must succeed. */
async function rows(...args: string[]): Promise<Row[]> {
  const { code, stdout, stderr } = await call(...args, '--json');
  expect({ code, stderr }).toEqual({ code: 0, stderr: '' });
  return stdout
    .split('\n')
    .filter((line) => line !== '')
    .map((line) => JSON.parse(line));
}

function file(name: string, text: string): string {
  const path = join(folder, name);
  writeFileSync(path, text);
  return path;
}

/** Two visits of a meter as capture files, so that the times of its tests lie between two looks at its clock. */
const visits = (id: string, tests: readonly ToldTest[]): string[] =>
  (
    [
      [-1, []],
      [20, tests],
    ] as const
  ).map(([day, told]) =>
    file(`${id}-${day}.capture.jsonl`, formatCapture(captureOf({ id, at: instant(T0 + day * DAY), tests: told }))),
  );

const test = (day: number, inr: string, rest: Partial<ToldTest> = {}): ToldTest => ({
  stamp: stampAt(T0 + day * DAY),
  inr,
  ...rest,
});

const PEOPLE =
  'patient_id;name;target_low;target_high;meter;meter_from\nALDER-017;R. Penrose;2,0;3,0;PA00017;2026-01-01\nALDER-018;;2,5;3,5;;\n';

/** What waits, as reading and reasons. */
const waiting = async (...args: string[]) =>
  (await rows('holds', ...args)).map((r) => [
    r['reading_id'],
    (r['holds'] as readonly { readonly code: string }[]).map((h) => h.code).join(' '),
  ]);

describe('from an empty folder', () => {
  it('a table is shown row by row first, and changes nothing then', async () => {
    const shown = await call('patients', 'import', file('people.csv', PEOPLE), '--dry-run');
    expect(shown).toMatchObject({ code: 0, stdout: expect.stringContaining('2 added. Nothing was changed') });
    expect(await rows('patients', 'list')).toEqual([]);
  });

  it('a table with a wrong row is refused with its line, and changes nothing', async () => {
    const wrong = file('wrong.csv', `${PEOPLE}ALDER-019;;3,0;2,0;;\n`);
    for (const more of [[], ['--dry-run'], ['--json']]) {
      const { code, stderr } = await call('patients', 'import', wrong, ...more);
      expect([code, stderr]).toEqual([
        2,
        expect.stringMatching(/wrong\.csv line 4: 3\.0 to 2\.0 .*\[IMPORT_WRONG\]\n$/),
      ]);
    }
    expect(await rows('patients', 'list')).toEqual([]);
    expect(await call('patients', 'import', join(folder, 'none.csv'))).toMatchObject({
      code: 2,
      stderr: expect.stringContaining('[FILE_MISSING]'),
    });
  });

  it('people come in with their targets and meters, once', async () => {
    const people = join(folder, 'people.csv');
    expect((await rows('patients', 'import', people)).map((r) => [r['line'], r['subject'], r['fate']])).toEqual([
      [2, 'ALDER-017', 'added'],
      [3, 'ALDER-018', 'added'],
    ]);
    expect((await rows('patients', 'import', people)).map((r) => r['fate'])).toEqual(['known', 'known']);
    expect(await rows('patients', 'show', 'ALDER-017')).toMatchObject([
      { name: 'R. Penrose', targets: [{ low: '2.0', high: '3.0' }], lends: [{ meter_id: 'PA00017', to: null }] },
    ]);
    expect(await call('patients', 'show', 'NOBODY')).toMatchObject({
      code: 2,
      stderr: expect.stringContaining('[PATIENT_UNKNOWN]'),
    });
  });
});

describe('the list of people', () => {
  const line = async (id: string): Promise<string> =>
    (await call('patients', 'list')).stdout.split('\n').find((text) => text.startsWith(id)) ?? '';

  it('shows the target and the meters of now, not those of a day to come or gone', async () => {
    const lent = [
      ['PA00055', '--from', '2026-01-01', '--until', '2099-01-01'],
      ['PA00066', '--from', '2098-01-01'],
      ['PA00077', '--from', '2026-01-01', '--until', '2026-01-02'],
    ] as const;
    const lends: unknown[] = [];
    for (const [meter, ...when] of lent) lends.push((await rows('lend', meter, 'ALDER-018', ...when))[0]?.['lend']);
    await call('patients', 'target', 'ALDER-018', '3.0-4.0', '--from', '2099-01-01');
    expect(await line('ALDER-018')).toMatch(/^ALDER-018 +2\.5 to 3\.5 +PA00055 +none/);
    const [{ targets }] = (await rows('patients', 'show', 'ALDER-018')) as [{ targets: { target: number }[] }];
    await call('patients', 'target', 'ALDER-018', '--undo', String(targets.at(-1)?.target));
    for (const lend of lends) await call('lend', '--undo', String(lend));
    expect(await line('ALDER-018')).toMatch(/^ALDER-018 +2\.5 to 3\.5 +none/);
  });
});

describe('whose a reading is', () => {
  it('is known of a lent meter, proposed by an appointment on a shared one, and asked for else', async () => {
    const lent = visits('PA00017', [test(1, '2.5'), test(2, '>8.0')]);
    const shared = visits('PA00099', [test(3, '2.6'), test(4, '2.7')]);
    expect((await call('replay', ...lent, ...shared)).code).toBe(0);
    expect((await waiting()).map(([, why]) => why)).toEqual(['off-scale', 'person-unknown', 'person-unknown']);
    const day = file('day.csv', 'time,patient_id\n2026-01-13 09:20,ALDER-018\n');
    expect((await rows('appointments', 'import', day, '--dry-run'))[0]).toMatchObject({ fate: 'added' });
    expect(await rows('appointments', 'list', '--day', '2026-01-13')).toEqual([]);
    expect((await rows('appointments', 'import', day))[0]).toMatchObject({ fate: 'added' });
    expect(await rows('appointments', 'list', '--day', '2026-01-13')).toEqual([
      { at: '2026-01-13T09:20:00Z', patient_id: 'ALDER-018' },
    ]);
    expect(await rows('holds', '--patient', 'ALDER-018')).toMatchObject([
      { patient_id: null, proposed_patient_id: 'ALDER-018', holds: [{ code: 'person-unconfirmed' }] },
    ]);
  });

  it('is confirmed where somebody is proposed, and only there', async () => {
    const [proposed, unknown] = (await waiting('--meter', 'PA00099')).map(([id]) => String(id));
    if (proposed === undefined || unknown === undefined) throw new Error('two readings must wait');
    expect(await call('assign', proposed, unknown, '--proposed')).toMatchObject({
      code: 2,
      stderr: expect.stringContaining(`Nobody is proposed for ${unknown}`),
    });
    expect(await call('release', unknown, '--reason', 'ok')).toMatchObject({ code: 2, stdout: '' });
    expect(await rows('assign', proposed, '--proposed', '--by', 'nurse Tamsin')).toEqual([
      { reading_id: proposed, patient_id: 'ALDER-018', status: 'settled', holds: [] },
    ]);
    expect(await call('assign', unknown)).toMatchObject({ code: 2, stderr: expect.stringContaining('[CALL_WRONG]') });
    expect(await rows('undo', proposed)).toMatchObject([{ patient_id: null, status: 'held' }]);
    expect(await rows('assign', proposed, unknown, '--to', 'ALDER-018')).toHaveLength(2);
    expect(await waiting('--meter', 'PA00099')).toEqual([]);
  });
});

describe('what is decided', () => {
  it('is released, struck out and taken back, each with its exit code', async () => {
    const [id = ''] = (await waiting()).map(([reading]) => String(reading));
    expect(await rows('release', id, '--reason', 'laboratory agrees')).toMatchObject([
      { status: 'settled', holds: [] },
    ]);
    expect((await call('release', id, '--reason', 'again')).stderr).toContain('does not wait');
    expect(await rows('void', id, '--reason', 'water drop')).toMatchObject([{ status: 'void' }]);
    expect((await call('void', id, '--reason', 'again')).code).toBe(2);
    expect((await call('void', id)).code).toBe(2);
    expect(await rows('undo', id)).toMatchObject([{ status: 'settled' }]);
    expect(await rows('undo', id)).toMatchObject([{ status: 'held' }]);
    expect((await call('undo', id)).stderr).toContain('[NOT_POSSIBLE]');
    expect((await call('undo', 'D99-1')).stderr).toContain('[READING_UNKNOWN]');
    expect(await call('holds')).toMatchObject({
      code: 0,
      stdout: expect.stringMatching(/\[off-scale\]\n\n1 reading waits/),
    });
  });

  it('is not hidden by a reason or a meter that was mistyped', async () => {
    expect((await call('holds', '--reason', 'offscale')).stderr).toContain('[CALL_WRONG]');
    expect((await call('holds', '--meter', 'PA0017')).stderr).toContain('[METER_UNKNOWN]');
    expect(await waiting('--reason', 'off-scale')).toHaveLength(1);
  });
});

describe('lending', () => {
  it('is refused twice at a time, ended and taken back', async () => {
    expect((await call('lend', 'PA00017', 'ALDER-018')).stderr).toContain('is lent to ALDER-017');
    const before = await rows('readings', '--patient', 'ALDER-017');
    expect(await rows('take-back', 'PA00017', '--at', '2026-01-12')).toMatchObject([{ to: '2026-01-12T00:00:00Z' }]);
    expect(before).toHaveLength(2);
    expect(await rows('readings', '--patient', 'ALDER-017')).toHaveLength(1);
    const [again] = await rows('lend', 'PA00017', 'ALDER-018', '--from', '2026-01-12');
    expect(await rows('readings', '--patient', 'ALDER-018')).toHaveLength(3);
    expect(await rows('lend', '--undo', String(again?.['lend']))).toMatchObject([{ undone: true }]);
    expect(await rows('lend', '--list')).toMatchObject([{ meter_id: 'PA00017', patient_id: 'ALDER-017' }]);
    expect((await call('take-back', 'PA00017')).code).toBe(2);
  });
});

describe('the registers', () => {
  it('ask for every lot once one is entered', async () => {
    expect(await rows('lots', 'add', '1200003', '--expiry', '2027-03', '--isi', '1,02')).toEqual([
      { lot: '1200003', expiry: '2027-03', isi: '1.02' },
    ]);
    expect(await waiting('--reason', 'lot-unknown')).toEqual([]);
    await rows('lots', 'add', '1200003', '--expiry', '2026-01-10');
    expect((await waiting('--reason', 'lot-expired')).length).toBe(4);
    await rows('lots', 'add', '1200003', '--expiry', '2027-03');
    expect(await waiting('--reason', 'lot-expired')).toEqual([]);
    expect(await rows('lots', 'list')).toMatchObject([{ lot: '1200003', expiry: '2027-03', isi: '1.02' }]);
    expect((await call('lots', 'add', '1200003', '--expiry', '03/27')).code).toBe(2);
  });

  it('hold what was measured after a control that failed', async () => {
    expect(await rows('controls', 'add', 'QC88', '2', '--mean', '3,0', '--sd', '0,1')).toMatchObject([{ number: 1 }]);
    expect((await call('controls', 'add', 'QC88', '1', '--mean', '1.1')).stderr).toContain('[NOT_POSSIBLE]');
    const failed = visits('PA00098', [test(5, '3.9', { kind: 'c' }), test(6, '2.6', { more: 'pid=ALDER-018' })]);
    expect((await call('replay', ...failed)).code).toBe(0);
    const ofMeter = await waiting('--meter', 'PA00098');
    expect(ofMeter.map(([, why]) => why)).toEqual(['person-unconfirmed control-failed']);
    const control = String((await rows('readings', '--meter', 'PA00098', '--kind', 'control'))[0]?.['reading_id']);
    expect(await rows('controls', 'name', control, '1')).toEqual([{ reading_id: control, number: 1 }]);
    expect((await call('controls', 'name', control, '7')).code).toBe(2);
    expect((await call('assign', control, '--to', 'ALDER-018')).stderr).toContain('is a control test');
    await rows('void', control, '--reason', 'expired material');
    expect((await waiting('--meter', 'PA00098')).map(([, why]) => why)).toEqual(['person-unconfirmed']);
    expect(await rows('controls', 'list')).toMatchObject([{ lot: 'QC88', mean: '3.0', sd: '0.1' }]);
  });

  it('take values of the laboratory, singly and from a table', async () => {
    expect(await rows('lab', 'add', 'ALDER-017', '2,6', '--at', '2026-01-11 09:40', '--analyte', 'inr')).toEqual([
      { patient_id: 'ALDER-017', at: '2026-01-11T09:40:00Z', analyte: 'INR', value: '2.6', fate: 'added' },
    ]);
    const table = file(
      'lab.csv',
      'time;patient_id;value\n2026-01-11 09:40;ALDER-017;2,7\n2026-01-12 10:00;ALDER-018;>8,0\n',
    );
    for (const more of [['--dry-run'], []])
      expect((await rows('lab', 'import', table, ...more)).map((r) => r['fate'])).toEqual(['changed', 'added']);
    expect((await rows('lab', 'list')).map((r) => r['value'])).toEqual(['2.7', '>8.0']);
    const wrong = file(
      'lab-wrong.csv',
      'time;patient_id;value\n2026-01-13 09:40;ALDER-017;2,9\n13.1.2026;ALDER-017;high\n',
    );
    expect(await call('lab', 'import', wrong)).toMatchObject({
      code: 2,
      stderr: expect.stringContaining('line 3: time:'),
    });
    expect(await rows('lab', 'list', '--patient', 'ALDER-017')).toHaveLength(1);
  });
});
