/**
 * The daemon with nothing to do: sixteen docks whose adapters are not there. Its share of one core and what it holds in
 * memory over a calm time, beside a Node process that only waits, both started at once. The programs that it starts are
 * counted with it. The whole list of the ports is made too seldom to fall into the time that is watched, so its price
 * is taken by itself and added at its own pace. `npm run bench idle -- --seconds=300` watches longer.
 */
import { type ChildProcess, execFileSync, spawn } from 'node:child_process';
import { once } from 'node:events';
import { existsSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { setTimeout as sleep } from 'node:timers/promises';
import { fileURLToPath } from 'node:url';
import { controlClient } from '../../src/dock/control/client.ts';
import { TRUST_MS } from '../../src/dock/watch-ports.ts';
import { listPorts } from '../../src/wire/transport/list-ports.ts';
import { report, reportLimit } from './lib/report.ts';

const DOCKS = 16;
const SECONDS = Number(process.argv.find((arg) => arg.startsWith('--seconds='))?.slice(10) ?? 12);
const LISTINGS = 2;
/** By then a start is over: the ports are known, its memory was given back, and V8 has looked after that once more. */
const START_MS = 25_500;

/** CPU seconds of a process and of the children that it has seen end: proc(5), fields 14 to 17 of stat. */
function cpuSeconds(pid: number, ticksPerSecond: number): number {
  const fields = readFileSync(`/proc/${pid}/stat`, 'utf8')
    .replace(/^.*\) /s, '')
    .split(' ');
  return fields.slice(11, 15).reduce((sum, field) => sum + Number(field), 0) / ticksPerSecond;
}

/** Resident memory, MB: proc(5), VmRSS of status. */
function residentMb(pid: number): number {
  const [, kib] = /^VmRSS:\s+(\d+) kB$/m.exec(readFileSync(`/proc/${pid}/status`, 'utf8')) ?? [];
  return (Number(kib) * 1024) / 1e6;
}

const pidOf = ({ pid }: ChildProcess): number => {
  if (pid === undefined) throw new Error('a process did not start');
  return pid;
};

/** Resolves when the daemon answers with all its docks absent. */
async function answers(folder: string): Promise<void> {
  const client = controlClient(folder);
  for (let tries = 0; tries < 100; tries++) {
    const docks = await client.status().then(
      (status) => status.docks,
      () => [],
    );
    if (docks.length === DOCKS && docks.every((dock) => dock.phase === 'absent')) return;
    await sleep(100);
  }
  throw new Error('the daemon did not come to rest');
}

async function measure(folder: string, bare: number, daemon: number): Promise<void> {
  const ticks = Number(execFileSync('getconf', ['CLK_TCK'], { encoding: 'utf8' }));
  await answers(folder);
  await sleep(START_MS);

  const before = cpuSeconds(process.pid, ticks);
  for (let n = 0; n < LISTINGS; n++) await listPorts();
  const listingS = (cpuSeconds(process.pid, ticks) - before) / LISTINGS;

  const resident = { bare: 0, daemon: 0 };
  const cpuBefore = cpuSeconds(daemon, ticks);
  const start = process.hrtime.bigint();
  for (let second = 0; second < SECONDS; second++) {
    await sleep(1000);
    resident.bare = Math.max(resident.bare, residentMb(bare));
    resident.daemon = Math.max(resident.daemon, residentMb(daemon));
  }
  const elapsedS = Number(process.hrtime.bigint() - start) / 1e9;
  const calm = ((cpuSeconds(daemon, ticks) - cpuBefore) / elapsedS) * 100;
  const listing = (listingS / (TRUST_MS / 1000)) * 100;
  console.log(
    `  ${DOCKS} empty docks, ${SECONDS} s: ${calm.toFixed(3)} % of one core; a list of the ports takes ` +
      `${(listingS * 1000).toFixed(0)} ms of CPU every ${TRUST_MS / 1000} s: ${listing.toFixed(3)} %`,
  );
  reportLimit('idle daemon, CPU', calm + listing, 0.5, '% of one core');
  report({
    what: 'idle daemon, most resident',
    against: 'a Node process that only waits',
    baseline: resident.bare,
    figure: resident.daemon,
    unit: 'MB',
    aim: { kind: 'at-most', ratio: 2 },
  });
}

if (!existsSync('/proc/self/stat')) {
  console.log('  not measured: this system has no /proc to read the figures from');
} else {
  const folder = mkdtempSync(join(tmpdir(), 'tallydock-bench-'));
  const docks = Array.from({ length: DOCKS }, (_, i) => `[[dock]]\nname = "dock ${i}"\nusb-serial = "ABSENT${i}"\n`);
  writeFileSync(join(folder, 'config.toml'), `zone = "Europe/Lisbon"\n${docks.join('')}`);
  /** The copy of the program that was built with this measurement. */
  const program = fileURLToPath(new URL('../../dist/cli/main.js', import.meta.url));
  const bare = spawn(process.execPath, ['-e', 'setInterval(() => {}, 1e6)'], { stdio: 'ignore' });
  const daemon = spawn(process.execPath, [program, 'serve', '--quiet', '--data', folder], {
    stdio: ['ignore', 'ignore', 'inherit'],
  });
  const ended = Promise.all([once(bare, 'exit'), once(daemon, 'exit')]);
  try {
    await measure(folder, pidOf(bare), pidOf(daemon));
  } finally {
    bare.kill();
    daemon.kill();
    await ended;
    rmSync(folder, { recursive: true, force: true });
  }
}
