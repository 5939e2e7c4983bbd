/**
 * The report on a month of a large clinic: time and memory, against a bare SELECT of the same rows of the same store,
 * both in a process of their own. 500 people with 100,000 readings; `npm run bench month -- --full` for 5,000 people with
 * a million, for which the limits of 10 s and 400 MB are meant.
 */
import { spawnSync } from 'node:child_process';
import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { fillMonthStore } from './lib/month-store.ts';
import { report, reportLimit } from './lib/report.ts';

const PEOPLE = process.argv.includes('--full') ? 5000 : 500;
const TESTS_EACH = 200;
const RUNNER = fileURLToPath(new URL('./lib/month-run.js', import.meta.url));

/** What a run in a process of its own came to. */
interface Ran {
  readonly seconds: number;
  readonly peakMb: number;
  readonly rows: number;
}

function runApart(dir: string, what: 'report' | 'bare'): Ran {
  const ran = spawnSync(process.execPath, [...process.execArgv, RUNNER, dir, what], {
    encoding: 'utf8',
    stdio: ['ignore', 'pipe', 'inherit'],
  });
  if (ran.status !== 0) throw new Error(`the run of ${what} ended with ${ran.status}`);
  return JSON.parse(ran.stdout) as Ran;
}

const dir = mkdtempSync(join(tmpdir(), 'tallydock-month-'));
try {
  fillMonthStore(dir, PEOPLE, TESTS_EACH);
  const bare = runApart(dir, 'bare');
  const month = runApart(dir, 'report');
  if (bare.rows !== PEOPLE * TESTS_EACH) throw new Error(`${bare.rows} rows`);
  const what = `report month of ${PEOPLE} people, ${bare.rows} readings`;
  report({
    what,
    against: 'SELECT of the same rows, person by person',
    baseline: bare.seconds,
    figure: month.seconds,
    unit: 's',
    aim: { kind: 'at-most', ratio: 5 },
  });
  reportLimit(what, month.seconds, 10, 's');
  reportLimit(`${what}, most memory`, month.peakMb, 400, 'MB');
} finally {
  rmSync(dir, { recursive: true, force: true });
}
