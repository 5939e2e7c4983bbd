/** `npm start`: the whole job with two meters that do not exist; run twice, the second time everything is known. */
import { spawn } from 'node:child_process';
import { once } from 'node:events';
import { mkdtempSync, readFileSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';

const SCRIPT = fileURLToPath(new URL('../../scripts/start.mjs', import.meta.url));

async function start(folder: string): Promise<{ code: number; stdout: string }> {
  const child = spawn(process.execPath, [SCRIPT, folder], { stdio: ['ignore', 'pipe', 'inherit'] });
  let stdout = '';
  child.stdout.on('data', (chunk: Buffer) => {
    stdout += chunk.toString();
  });
  const [code] = await once(child, 'close');
  return { code, stdout };
}

describe('the demo', () => {
  let folder = '';
  beforeAll(() => {
    folder = mkdtempSync(join(tmpdir(), 'tallydock-demo-'));
  });
  afterAll(() => rmSync(folder, { recursive: true, force: true }));

  it('collects two meters, one of which had lost its clock, and shows what was found and where the CSV lies', async () => {
    const { code, stdout } = await start(folder);
    expect(code).toBe(0);
    expect(stdout).toMatch(/34 of 34 tests read: 34 new, 0 known/);
    expect(stdout).toContain('date, time and target range must be entered again.');
    expect(stdout).toMatch(/GM-40 PA-C002 on tcp:/);
    expect(stdout).toContain('What to try next');
    expect(readFileSync(join(folder, 'readings.csv'), 'utf8')).toMatch(/PA-H017[\s\S]*PA-C002/);
  });

  it('finds everything known when it is started again, and the clock that was set still right', async () => {
    const before = readFileSync(join(folder, 'readings.csv'), 'utf8').split('\r\n').length;
    const { code, stdout } = await start(folder);
    expect(code).toBe(0);
    expect(stdout).toContain('34 of 34 tests read: 0 new, 34 known');
    expect(stdout).toContain('Clock: right.');
    expect(readFileSync(join(folder, 'readings.csv'), 'utf8').split('\r\n')).toHaveLength(before);
  });
});
