import { spawn } from 'node:child_process';
import { once } from 'node:events';
import { fileURLToPath } from 'node:url';
import { describe, expect, it } from 'vitest';
import { lifeOf } from '../intake/told-meter.ts';
import { tempFolder, tempStore } from '../store/temp-store.ts';

const SEED = Number(process.env['SEED'] ?? 20260302);
const CHILD = fileURLToPath(new URL('./replay-child.ts', import.meta.url));

/** Runs a process that replays the whole life; gives what it complained about. */
async function replayElsewhere(dir: string, order: number): Promise<string> {
  const child = spawn(process.execPath, ['--import', 'tsx', CHILD, dir, String(SEED), String(order)], {
    stdio: ['ignore', 'ignore', 'pipe'],
  });
  let complained = '';
  child.stderr.on('data', (data: Buffer) => {
    complained += data;
  });
  await once(child, 'exit');
  return complained;
}

describe('two processes on one store', () => {
  it(`that replay the same captures in different orders at the same time store every test once (SEED=${SEED})`, async () => {
    const dir = tempFolder();
    expect(await Promise.all([replayElsewhere(dir, 1), replayElsewhere(dir, 2)])).toEqual(['', '']);
    const store = tempStore(dir);
    const { told, captures } = lifeOf(SEED, 15, { runs: false });
    expect([...store.readings.pages({})].flat().map((r) => r.record.meterTimeText)).toEqual(told.map((t) => t.stamp));
    expect(store.downloads.list()).toHaveLength(captures.length);
    expect(store.captures.unfinished()).toEqual([]);
    expect(store.audit.check()).toEqual({ intact: true, rows: captures.length });
  }, 60_000);
});
