/** The files of the CSV outlet: whole after a crash at any byte, once after any repeat, and readable by everybody's reader. */
import {
  appendFileSync,
  copyFileSync,
  mkdirSync,
  readdirSync,
  readFileSync,
  rmSync,
  statSync,
  truncateSync,
  writeFileSync,
} from 'node:fs';
import { join } from 'node:path';
import { parse } from 'csv-parse/sync';
import { describe, expect, it, onTestFinished, vi } from 'vitest';
import { type Instant, instant } from '../../../src/core/instant.ts';
import { csvOutlet } from '../../../src/outlets/csv/csv-outlet.ts';
import { CSV_COLUMNS } from '../../../src/outlets/csv/csv-row.ts';
import { ADDED_COLUMNS, OUTLET_HEADER } from '../../../src/outlets/csv/outgoing-row.ts';
import type { Delivery } from '../../../src/outlets/outlet.ts';
import { tempFolder } from '../../store/temp-store.ts';
import { NOW } from '../driven.ts';
import { type MadeReading, madeStore } from '../made-store.ts';
import { csvVersions } from '../rigs.ts';

const locked = vi.hoisted(() => ({ code: undefined as string | undefined }));
vi.mock('node:fs/promises', async (original) => {
  const real = await original<typeof import('node:fs/promises')>();
  return {
    ...real,
    open: (path: string, ...rest: [string]) =>
      locked.code !== undefined && String(path).endsWith('.csv')
        ? Promise.reject(Object.assign(new Error(`${locked.code}: held`), { code: locked.code }))
        : real.open(path, ...rest),
  };
});

const never = new AbortController().signal;
const outletIn = (folder: string, now: () => Instant = () => NOW, files: 'daily' | 'one' = 'one') =>
  csvOutlet({ folder, files }, { zone: 'Europe/Lisbon', now });

/** Deliveries of readings that a store composes. */
function deliveries(count: number, made: MadeReading | ((n: number) => MadeReading) = {}): Delivery[] {
  const it = madeStore(tempFolder());
  onTestFinished(() => it.store.close());
  const ids = it.add(count, made);
  const bodies = it.store.outgoing.compose(ids);
  return ids.flatMap((id, i) => {
    const body = bodies.get(id);
    return body ? [{ seq: i + 1, reading: body.reading, isWithdrawn: false }] : [];
  });
}
const names = (folder: string): string[] => readdirSync(folder).filter((name) => name.endsWith('.csv'));

describe('a crash', () => {
  it('at any byte of a batch leaves each row once and whole after the next start', async () => {
    const made = tempFolder();
    const all = deliveries(6, (n) => (n === 4 ? { lot: 'a "quoted"\r\nlot, with a line end' } : {}));
    await outletIn(made).send(all.slice(0, 3), never);
    const file = join(made, 'readings.csv');
    const before = statSync(file).size;
    const outlet = outletIn(made);
    await outlet.send(all.slice(3, 4), never); // the note of what was before this stands now in the folder
    await outlet.send(all.slice(4), never);
    const whole = readFileSync(file);
    const note = readFileSync(join(made, '.tallydock-csv.json'));
    const from = before + Buffer.byteLength(readFileSync(file, 'utf8').split('\r\n').slice(7, 9).join('\r\n')) + 2;
    expect(JSON.parse(note.toString())).toMatchObject({ size: from });
    for (let cut = from; cut <= whole.length; cut++) {
      const folder = tempFolder();
      writeFileSync(join(folder, 'readings.csv'), whole.subarray(0, cut));
      writeFileSync(join(folder, '.tallydock-csv.json'), note);
      await outletIn(folder).send(all.slice(4), never);
      expect(readFileSync(join(folder, 'readings.csv')).equals(whole), `cut at ${cut}`).toBe(true);
      rmSync(folder, { recursive: true });
    }
  }, 120_000);

  it('during the repeat of a batch that was half written loses and doubles nothing either', async () => {
    const folder = tempFolder();
    const all = deliveries(9);
    const file = join(folder, 'readings.csv');
    const first = outletIn(folder);
    await first.send(all.slice(0, 3), never);
    await first.send(all.slice(3), never);
    const whole = readFileSync(file);
    for (const cut of [whole.length - 700, whole.length - 300]) {
      truncateSync(file, cut);
      await outletIn(folder).send(all.slice(3), never);
      expect(readFileSync(file).equals(whole)).toBe(true);
    }
  });

  it('over midnight finds yesterday what it had written', async () => {
    const folder = tempFolder();
    const all = deliveries(4);
    let now = NOW;
    const outlet = outletIn(folder, () => now, 'daily');
    await outlet.send(all.slice(0, 2), never);
    await outlet.send(all.slice(2), never);
    now = instant(NOW + 86_400_000);
    await outletIn(folder, () => now, 'daily').send(all.slice(2), never);
    expect(csvVersions(folder)).toHaveLength(4);
  });

  it('without a note in the folder costs a look through the files, and nothing else', async () => {
    const folder = tempFolder();
    const all = deliveries(6);
    await outletIn(folder).send(all, never);
    rmSync(join(folder, '.tallydock-csv.json'));
    const again = outletIn(folder);
    for (const one of all) await again.send([one], never);
    expect(csvVersions(folder)).toHaveLength(6);
    writeFileSync(join(folder, '.tallydock-csv.json'), '{"file":');
    await outletIn(folder).send(all, never);
    expect(csvVersions(folder)).toHaveLength(6);
  });
});

describe('the files', () => {
  it('hold what the export holds, and the version behind it', async () => {
    const folder = tempFolder();
    const [one] = deliveries(1);
    if (!one) throw new Error('no delivery');
    await outletIn(folder).send([one], never);
    await outletIn(folder).send(
      [{ ...one, seq: 2, reading: { ...one.reading, version: 2 }, isWithdrawn: true }],
      never,
    );
    const rows = parse(readFileSync(join(folder, 'readings.csv'), 'utf8'), { columns: true }) as Record<
      string,
      string
    >[];
    expect(Object.keys(rows[0] ?? {})).toEqual([...CSV_COLUMNS, ...ADDED_COLUMNS]);
    expect(rows.map((r) => [r['analyte'], r['version'], r['status']])).toEqual([
      ['INR', '1', 'settled'],
      ['PT', '1', 'settled'],
      ['INR', '2', 'void'],
      ['PT', '2', 'void'],
    ]);
    expect(rows[0]).toMatchObject({
      patient_id: 'ALDER-001',
      person_basis: 'lent',
      target_low: '2.0',
      target_high: '3.0',
    });
  });

  it('are one for each local day, or one that grows, readable by their owner only', async () => {
    const folder = tempFolder();
    const all = deliveries(2);
    const late = instant(Date.UTC(2026, 6, 1, 23, 30)); // already the 2nd in Lisbon in summer
    await outletIn(folder, () => late, 'daily').send(all, never);
    expect(names(folder)).toEqual(['readings-2026-07-02.csv']);
    if (process.platform !== 'win32')
      expect(statSync(join(folder, 'readings-2026-07-02.csv')).mode & 0o777).toBe(0o600);
  });

  it('take the rows again where somebody has removed them, and go on behind what somebody has added', async () => {
    const folder = tempFolder();
    const all = deliveries(5);
    const file = join(folder, 'readings.csv');
    const outlet = outletIn(folder);
    await outlet.send(all.slice(0, 2), never);
    appendFileSync(file, 'a remark of somebody');
    await outlet.send(all.slice(2, 3), never);
    expect(readFileSync(file, 'utf8')).not.toContain('remark'); // no whole row: as a torn one
    rmSync(file);
    await outlet.send(all.slice(3), never);
    expect(csvVersions(folder).map((v) => v.reading)).toEqual(all.slice(3).map((d) => d.reading.id));
  });

  it('with other columns are left alone', async () => {
    const folder = tempFolder();
    const file = join(folder, 'readings.csv');
    writeFileSync(file, 'date,INR\r\n2026-01-01,2.5\r\n');
    await expect(outletIn(folder).send(deliveries(1), never)).rejects.toMatchObject({ code: 'OUTLET_INVALID' });
    expect(readFileSync(file, 'utf8')).toBe('date,INR\r\n2026-01-01,2.5\r\n');
  });

  it('may be copied while they grow: a copy begins with the header and ends with a whole row', async () => {
    const folder = tempFolder();
    const copy = join(tempFolder(), 'copy.csv');
    const outlet = outletIn(folder);
    for (const one of deliveries(5)) {
      await outlet.send([one], never);
      copyFileSync(join(folder, 'readings.csv'), copy);
      const text = readFileSync(copy, 'utf8');
      expect([text.startsWith(OUTLET_HEADER), text.endsWith('\r\n')]).toEqual([true, true]);
    }
  });

  it.each(['EBUSY', 'EPERM', 'EACCES'])('that a spreadsheet has locked (%s) are waited for', async (code) => {
    const folder = tempFolder();
    mkdirSync(folder, { recursive: true });
    const all = deliveries(3);
    const outlet = outletIn(folder);
    await outlet.send(all.slice(0, 1), never);
    locked.code = code;
    onTestFinished(() => {
      locked.code = undefined;
    });
    await expect(outlet.send(all.slice(1), never)).rejects.toMatchObject({
      code: 'OUTLET_DOWN',
      message: expect.stringContaining('held by another program'),
    });
    locked.code = undefined;
    await outlet.send(all.slice(1), never);
    expect(csvVersions(folder)).toHaveLength(3);
  });
});
