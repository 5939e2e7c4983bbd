/**
 * Feeds damaged input to every parser, each in a process of its own. Options: --inputs=N for each parser (default 100000),
 * --only=NAME,NAME, --seed=N, --cores=N (default: all), --seconds=N (stop each parser after so long; what was done is
 * told). Fails where a promise breaks, an input takes longer than a second three times, a parser says nothing for half a minute, or
 * the memory that is left after a collection grows; a failing input is written to fuzz-found/ with its seed.
 */
import { type ChildProcess, fork } from 'node:child_process';
import { mkdirSync, writeFileSync } from 'node:fs';
import { availableParallelism } from 'node:os';
import { join } from 'node:path';
import { parseArgs } from 'node:util';
import { inputOf, type Target, tryInput } from '../../tests/fuzz/target.ts';
import { targets } from '../../tests/fuzz/targets.ts';
import { seedOr } from '../../tests/support/seed.ts';

const { values } = parseArgs({
  options: {
    inputs: { type: 'string', default: '100000' },
    only: { type: 'string' },
    seed: { type: 'string', default: String(seedOr(20260301)) },
    cores: { type: 'string', default: String(availableParallelism()) },
    seconds: { type: 'string', default: '86400' },
    worker: { type: 'string' },
  },
});
const INPUTS = Number(values.inputs);
const SEED = Number(values.seed);
const SECONDS = Number(values.seconds);

/** An input may take so long. */
const SLOWEST_MS = 1000;
/** A parser that says nothing for so long hangs. */
const SILENCE_MS = 30_000;
/** Inputs after which caches are filled and code is compiled. */
const WARM_INPUTS = 5000;
/** What a heap may grow after it has warmed up: caches of the machine's own, not a leak of a byte for each input. */
const GROWTH_BYTES = 8 * 2 ** 20;
/** A run goes on after a problem, up to so many. */
const MOST_PROBLEMS = 10;

/** What a parser's process tells: its place in the run each second, and everything at the end. */
interface Told {
  readonly done: number;
  readonly seconds: number;
  readonly slowestMs: number;
  readonly slowestSeed: number;
  /** Absent where it was not measured. */
  readonly grownBytes?: number;
  readonly problems: readonly string[];
  readonly isOver: boolean;
}

const heap = (): number => {
  globalThis.gc?.();
  globalThis.gc?.();
  return process.memoryUsage().heapUsed;
};

/** Writes an input that broke a promise; gives what is told of it. */
function keep(target: Target, seed: number, what: string): string {
  mkdirSync('fuzz-found', { recursive: true });
  const file = join('fuzz-found', `${target.name}--seed-${seed}.bin`);
  writeFileSync(file, inputOf(target, seed).bytes);
  return `${target.name}, input ${seed}: ${what} (${file})`;
}

/** How long one input takes, in milliseconds; what it throws was told when it was first tried. */
async function timeOf(target: Target, seed: number): Promise<number> {
  const begun = performance.now();
  try {
    const waits = tryInput(target, seed);
    if (waits) await waits;
  } catch {}
  return performance.now() - begun;
}

/** Runs one target; tells its place each second. */
async function run(target: Target, tell: (told: Told) => void): Promise<void> {
  const problems: string[] = [];
  const begun = performance.now();
  let done = 0;
  let slowestMs = 0;
  let slowestSeed = SEED;
  let toldAt = begun;
  let warm: number | undefined;
  const warmAt = Math.min(WARM_INPUTS, Math.floor(INPUTS / 2));
  const now = (isOver: boolean, grownBytes?: number): Told => {
    const seconds = (performance.now() - begun) / 1000;
    return {
      done,
      seconds,
      slowestMs,
      slowestSeed,
      ...(grownBytes === undefined ? {} : { grownBytes }),
      problems,
      isOver,
    };
  };
  let before = begun;
  while (done < INPUTS && before - begun < SECONDS * 1000 && problems.length < MOST_PROBLEMS) {
    const seed = SEED + done;
    try {
      const waits = tryInput(target, seed);
      if (waits) await waits;
    } catch (thrown) {
      problems.push(keep(target, seed, String(thrown)));
    }
    done++;
    let after = performance.now();
    // The first inputs also compile the parser.
    if (after - before > slowestMs && done > 100) {
      let tookMs = after - before;
      // A busy machine makes anything slow once.
      if (tookMs > SLOWEST_MS) tookMs = Math.min(tookMs, await timeOf(target, seed), await timeOf(target, seed));
      if (tookMs > slowestMs) {
        slowestMs = tookMs;
        slowestSeed = seed;
      }
      if (tookMs > SLOWEST_MS) problems.push(keep(target, seed, `took ${tookMs.toFixed(0)} ms`));
      after = performance.now();
    }
    before = after;
    if (after - toldAt > 1000) {
      tell(now(false));
      toldAt = after;
    }
    if (done === warmAt) {
      warm = heap();
      before = performance.now();
    }
  }
  // A run that ended before it was warm has nothing to compare with, and says so.
  const grown = warm === undefined ? undefined : heap() - warm;
  if (grown !== undefined && grown > GROWTH_BYTES)
    problems.push(`${target.name}: the heap grew by ${(grown / 2 ** 20).toFixed(1)} MiB`);
  await target.close?.();
  tell(now(true, grown));
}

/** Runs one target in a process of its own. Resolves with what it told last. */
function inProcess(target: Target): Promise<Told> {
  return new Promise((resolve) => {
    const args = [...process.argv.slice(2), `--worker=${target.name}`];
    const child: ChildProcess = fork(process.argv[1] ?? '', args, { execArgv: [...process.execArgv] });
    let last: Told = {
      done: 0,
      seconds: 0,
      slowestMs: 0,
      slowestSeed: SEED,
      problems: [],
      isOver: false,
    };
    const watch = (): NodeJS.Timeout => setTimeout(() => child.kill('SIGKILL'), SILENCE_MS);
    let silence = watch();
    child.on('message', (told: Told) => {
      clearTimeout(silence);
      last = told;
      if (!told.isOver) silence = watch();
    });
    child.once('exit', () => {
      clearTimeout(silence);
      if (last.isOver) return resolve(last);
      const what = `${target.name}: no word after input ${SEED + last.done}: it hangs or died`;
      resolve({ ...last, problems: [...last.problems, what] });
    });
  });
}

async function runAll(): Promise<void> {
  const wanted = values.only?.split(',') ?? targets.map((t) => t.name);
  const unknown = wanted.filter((name) => !targets.some((t) => t.name === name));
  if (unknown.length > 0) throw new Error(`There is no parser named ${unknown.join(', ')}`);
  const waiting = targets.filter((t) => wanted.includes(t.name));
  const problems: string[] = [];
  let total = 0;
  console.log(`  seed ${SEED}, ${INPUTS} inputs for each of ${waiting.length} parsers at most`);
  console.log('  parser              inputs  inputs/s  slowest ms  heap growth KiB  problems');
  const lane = async (): Promise<void> => {
    for (let target = waiting.shift(); target; target = waiting.shift()) {
      const told = await inProcess(target);
      total += told.done;
      problems.push(...told.problems);
      const cells = [
        String(told.done).padStart(10),
        (told.done / Math.max(told.seconds, 0.001)).toFixed(0).padStart(10),
        told.slowestMs.toFixed(1).padStart(12),
        (told.grownBytes === undefined ? 'not measured' : (told.grownBytes / 1024).toFixed(0)).padStart(17),
        String(told.problems.length).padStart(10),
      ];
      console.log(`  ${target.name.padEnd(16)}${cells.join('')}`);
    }
  };
  await Promise.all(Array.from({ length: Math.max(1, Number(values.cores)) }, lane));
  console.log(`  ${total} inputs in all`);
  for (const problem of problems) console.error(`  ${problem}`);
  if (problems.length > 0) process.exitCode = 1;
}

if (values.worker === undefined) await runAll();
else {
  const target = targets.find((t) => t.name === values.worker);
  if (target) await run(target, (told) => process.send?.(told));
  process.disconnect();
}
