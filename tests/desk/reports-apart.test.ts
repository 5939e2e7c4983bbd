/** Reports from a process apart: the built one, on a real store that this process goes on writing. */
import { execFile } from 'node:child_process';
import { readFileSync, writeFileSync } from 'node:fs';
import { dirname, join } from 'node:path';
import { fileURLToPath, pathToFileURL } from 'node:url';
import { promisify } from 'node:util';
import { expect, it, onTestFinished } from 'vitest';
import { DEFAULT_POLICY } from '../../src/clinic/rules/policy.ts';
import { instant } from '../../src/core/instant.ts';
import type { ReportAsk, Reports } from '../../src/desk/reports.ts';
import { reportsApart } from '../../src/desk/reports-apart.ts';
import { reportsHere } from '../../src/desk/reports-here.ts';
import { loadProfiles } from '../../src/intake/profile-library.ts';
import { addPatient } from '../../src/record/people.ts';
import { context, NOW, seededStore, ZONE } from '../reports/seeded.ts';
import { tempFolder } from '../store/temp-store.ts';
import { until } from '../support/until.ts';

const CHILD = fileURLToPath(new URL('../../dist/desk/report-child.js', import.meta.url));
const APART = fileURLToPath(new URL('../../dist/desk/reports-apart.js', import.meta.url));
const ask: ReportAsk = { now: NOW, zone: ZONE, policy: DEFAULT_POLICY };

function apart(dataDir: string, child = CHILD, idleMs?: number): Reports {
  const reports = reportsApart(dataDir, child, idleMs);
  onTestFinished(() => reports.close());
  return reports;
}

it('are the same as those gathered here, Infinity and all, and know what was written since', async () => {
  const store = seededStore();
  const dataDir = dirname(store.db.path);
  const here = reportsHere(store, loadProfiles(dataDir));
  const there = apart(dataDir);
  for (const name of ['meters', 'controls', 'comparison', 'month'] as const)
    expect(await there.gather(name, ask)).toEqual(await here.gather(name, ask));
  const { people } = await there.gather('month', ask);
  addPatient(store, context, { id: 'ALDER-201' });
  expect((await there.gather('month', { ...ask, now: instant(NOW + 1) })).people).toBe(people + 1);
});

it('hand on a fault as it is, one question not disturbing the next', async () => {
  const there = apart(dirname(seededStore().db.path));
  const [wrong, right] = await Promise.allSettled([
    there.gather('month', { ...ask, month: 'March' }),
    there.gather('month', { ...ask, month: '2026-03' }),
  ]);
  expect(wrong).toMatchObject({ status: 'rejected', reason: { code: 'CALL_WRONG', hint: 'Write 2026-03.' } });
  expect(right).toMatchObject({ status: 'fulfilled', value: { month: '2026-03' } });
});

it('break off where the process ends, and come from a new one when they are asked for again', async () => {
  const dataDir = dirname(seededStore().db.path);
  const child = join(tempFolder(), 'child.mjs');
  writeFileSync(child, 'process.exit(3);');
  const there = apart(dataDir, child);
  await expect(there.gather('meters', ask)).rejects.toMatchObject({ code: 'INTERNAL' });
  writeFileSync(child, `await import(${JSON.stringify(pathToFileURL(CHILD).href)});`);
  expect((await there.gather('meters', ask)).meters).toHaveLength(1);
});

it('leave no process behind: it ends when nothing was asked for a while, and with whoever asked', async () => {
  const dataDir = dirname(seededStore().db.path);
  const pidFile = join(tempFolder(), 'pid');
  const child = join(tempFolder(), 'child.mjs');
  writeFileSync(
    child,
    `import { writeFileSync } from 'node:fs';
    writeFileSync(${JSON.stringify(pidFile)}, String(process.pid));
    await import(${JSON.stringify(pathToFileURL(CHILD).href)});`,
  );
  const isGone = (): boolean => {
    try {
      process.kill(Number(readFileSync(pidFile, 'utf8')), 0);
      return false;
    } catch {
      return true;
    }
  };
  await apart(dataDir, child, 50).gather('comparison', ask);
  await until(isGone);
  // A program that asked once, does not say goodbye, and has nothing else to do.
  const asker = `import { reportsApart } from ${JSON.stringify(pathToFileURL(APART).href)};
    const made = await reportsApart(${JSON.stringify(dataDir)}, ${JSON.stringify(child)}).gather('comparison', ${JSON.stringify(ask)});
    console.log(JSON.stringify(made));`;
  const { stdout } = await promisify(execFile)(process.execPath, ['--input-type=module', '-e', asker]);
  expect(JSON.parse(stdout)).toMatchObject({ comparisons: [] });
  await until(isGone);
});
