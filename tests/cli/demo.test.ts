/** `npm start`: a small year of the clinic, and two meters on its dock; run twice, the second time everything is known. */
import { spawn } from 'node:child_process';
import { once } from 'node:events';
import { mkdtempSync, readFileSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';

const SCRIPT = fileURLToPath(new URL('../../scripts/start.mjs', import.meta.url));
const SMALL = { PORT_ALDER_HOMES: '12', PORT_ALDER_DAYS: '90' };

async function start(folder: string): Promise<{ code: number; stdout: string }> {
  const env = { ...process.env, ...SMALL };
  const child = spawn(process.execPath, [SCRIPT, folder], { stdio: ['ignore', 'pipe', 'inherit'], env });
  let stdout = '';
  child.stdout.on('data', (chunk: Buffer) => {
    stdout += chunk.toString();
  });
  const [code] = await once(child, 'close');
  return { code, stdout };
}

// A start may build first, on a busy machine: the time is a guard against hanging and no promise.
describe('the demo', { timeout: 120_000 }, () => {
  let folder = '';
  let rows = 0;
  const countRows = (): number => readFileSync(join(folder, 'readings.csv'), 'utf8').split('\r\n').length;
  beforeAll(() => {
    folder = mkdtempSync(join(tmpdir(), 'tallydock-demo-'));
  });
  afterAll(() => rmSync(folder, { recursive: true, force: true }));

  it('takes in the year, collects two meters, one without its clock, and shows what waits and where the files lie', async () => {
    const { code, stdout } = await start(folder);
    expect(code).toBe(0);
    expect(stdout).toMatch(/patients import people\.csv\n {4}\d+ added/);
    expect(stdout).toMatch(/\n {4}\d+ files, \d{3,} new readings\n/);
    expect(stdout).toMatch(/34 of 34 tests read: 34 new, 0 known/);
    expect(stdout).toContain('date, time and target range must be entered again.');
    expect(stdout).toMatch(/GM-40 PA-C002 on tcp:/);
    expect(stdout).toMatch(/\$ tallydock assign D\d+-\d+ D\d+-\d+ --proposed/);
    expect(stdout).toMatch(/\$ tallydock release D\d+-\d+ --reason/);
    for (const reason of ['person-unconfirmed', 'person-unknown', 'time-wide', 'lot-expired'])
      expect(stdout).toMatch(new RegExp(` +\\d+ {2}${reason}\n`));
    expect(stdout).toContain('What to try next');
    expect(readFileSync(join(folder, 'readings.csv'), 'utf8')).toMatch(/PA-H001[\s\S]*PA-H017[\s\S]*PA-C002/);
    rows = countRows();
  });

  it('finds everything known when it is started again, and the clock that was set still right', async () => {
    const { code, stdout } = await start(folder);
    expect(code).toBe(0);
    expect(stdout).toMatch(/\n {4}\d+ files, 0 new readings\n/);
    expect(stdout).toContain('34 of 34 tests read: 0 new, 34 known');
    expect(stdout).toContain('Clock: right.');
    expect(stdout).not.toMatch(/[1-9]\d* (added|changed)/);
    expect(countRows()).toBe(rows);
  });
});
