/**
 * Mutation testing of the pure rooms: each small change of `src/clinic`, `src/clock` and `src/memory` must make one of
 * their tests fail. Options: --only=clinic/course,clock (folders or files of src; default: the three rooms),
 * --sample=N (only what is changed within every Nth line), --slow (tests that take seconds, too), --runs=N (rounds of the
 * generated tests for each mutant), --runner=vitest (the usual runner, slow; to compare), --survivors (print them). Fails
 * where fewer than 85 % of a room's mutants are killed, or where mutation/explained.ts is out of date.
 *
 * Not mutated: texts, whose words are no behaviour. What cannot be seen here: mutants of types, and those that only
 * longer generated histories than these would kill. The tool is no dependency of the house; it brings 170 packages. It is
 * fetched at the first run, as mutation/tools/package-lock.json has it, into the cache beside the packages.
 */
import { spawnSync } from 'node:child_process';
import { cpSync, existsSync, mkdirSync, readdirSync, readFileSync, statSync, writeFileSync } from 'node:fs';
import { setPriority } from 'node:os';
import { join, resolve } from 'node:path';
import { fileURLToPath } from 'node:url';
import { parseArgs } from 'node:util';
import { EXPLAINED } from './mutation/explained.ts';

const { values } = parseArgs({
  options: {
    only: { type: 'string', default: 'clinic,clock,memory' },
    runs: { type: 'string' },
    sample: { type: 'string', default: '1' },
    runner: { type: 'string', default: 'rooms' },
    slow: { type: 'boolean', default: false },
    survivors: { type: 'boolean', default: false },
  },
});

/** A room must have so many of its mutants killed. */
const ENOUGH = 0.85;

interface Room {
  readonly name: string;
  /** The folders and files of tests that are run against it. */
  readonly tests: RegExp;
  /** Those that take seconds for each mutant that they do not kill; run where --slow asks for it. */
  readonly slow?: RegExp;
  /** Rounds of the generated tests, and histories of the memory room, that a mutant can wait for. */
  readonly runs: number;
  readonly histories: number;
}

const ROOMS: readonly Room[] = [
  {
    name: 'clinic',
    tests:
      /^tests\/(clinic\/|outside\/(bland|check-digits|control|deming|distr|error|inr|interv|overw|pass|time|trend))/,
    runs: 8,
    histories: 0,
  },
  // The worlds keep what they placed from one test to the next, so they would judge every mutant by the first.
  {
    name: 'clock',
    tests: /^tests\/(clock\/(?!worlds|incremental|exhaustive)|outside\/clock-)/,
    slow: /^tests\/clock\/(incremental|exhaustive)/,
    runs: 1,
    histories: 0,
  },
  { name: 'memory', tests: /^tests\/memory\//, runs: 1, histories: 16 },
];

/** A mutant as the tool's report has it. */
interface Mutant {
  readonly mutatorName: string;
  readonly replacement?: string;
  readonly status: string;
  readonly location: { readonly start: Place; readonly end: Place };
}
interface Place {
  readonly line: number;
  readonly column: number;
}
interface Report {
  readonly files: Record<string, { readonly source: string; readonly mutants: readonly Mutant[] }>;
}

const here = fileURLToPath(new URL('.', import.meta.url));
const cache = resolve('node_modules', '.cache', 'mutation');

/** Fetches the tool as locked; returns the file that runs it. */
function tool(): string {
  const locked = join('scripts', 'proof', 'mutation', 'tools');
  const known = join(cache, 'package-lock.json');
  const isThere =
    existsSync(join(cache, 'node_modules')) &&
    existsSync(known) &&
    readFileSync(known, 'utf8') === readFileSync(join(locked, 'package-lock.json'), 'utf8');
  if (!isThere) {
    console.log('Fetching the mutation tool (once) ...');
    mkdirSync(cache, { recursive: true });
    cpSync(locked, cache, { recursive: true });
    // It finds the test library of the house beside it.
    const done = spawnSync('npm ci --ignore-scripts --legacy-peer-deps', { cwd: cache, stdio: 'inherit', shell: true });
    if (done.status !== 0)
      throw new Error('The mutation tool could not be fetched. Check the network, then run it again.');
  }
  return join(cache, 'node_modules', '@stryker-mutator', 'core', 'bin', 'stryker.js');
}

const isIn = (room: string, path: string): boolean => path === `src/${room}` || path.startsWith(`src/${room}/`);

const filesUnder = (path: string): string[] =>
  statSync(path).isDirectory() ? readdirSync(path).flatMap((name) => filesUnder(`${path}/${name}`)) : [path];

/** What is mutated of a file: all of it, or every Nth line. */
function everyNthLine(file: string): string[] {
  const n = Number(values.sample);
  const lines = readFileSync(file, 'utf8').split('\n').length;
  return n === 1
    ? [file]
    : Array.from({ length: Math.floor(lines / n) }, (_, i) => `${file}:${(i + 1) * n}-${(i + 1) * n}`);
}

/** Mutates files of one room; gives the tool's report. */
function mutate(room: Room, files: readonly string[]): Report {
  const isAsked = (file: string): boolean => room.tests.test(file) || (values.slow && room.slow?.test(file) === true);
  const tests = filesUnder('tests').filter((file) => file.endsWith('.test.ts') && isAsked(file));
  const report = join(cache, `${room.name}.json`);
  const settings = join(cache, `${room.name}-settings.json`);
  const isQuick = values.runner === 'rooms';
  const vitestConfig = join(cache, 'vitest.config.js');
  writeFileSync(vitestConfig, `export default ${JSON.stringify({ test: { include: tests, testTimeout: 30_000 } })};\n`);
  writeFileSync(
    settings,
    JSON.stringify({
      testRunner: isQuick ? 'rooms' : 'vitest',
      plugins: [isQuick ? join(here, 'mutation', 'test-runner.js') : '@stryker-mutator/vitest-runner'],
      ...(!isQuick && { vitest: { configFile: vitestConfig } }),
      mutate: files.flatMap(everyNthLine),
      mutator: { excludedMutations: ['StringLiteral'] },
      coverageAnalysis: 'perTest',
      concurrency: 1,
      timeoutMS: 5000,
      timeoutFactor: 2,
      reporters: ['json', 'progress-append-only'],
      jsonReporter: { fileName: report },
      ignorePatterns: [
        'biome.json',
        'dist',
        'demo',
        'coverage',
        'fuzz-found',
        'src/desk',
        'scripts',
        'tests/desk',
        'tests/fuzz',
      ],
      tsconfigFile: 'none.json', // what it would do with the real one needs an older compiler
      tempDirName: 'mutation-sandbox',
      warnings: false,
      logLevel: 'warn',
    }),
  );
  const runs = values.runs ?? String(room.runs);
  const done = spawnSync(process.execPath, [tool(), 'run', settings], {
    stdio: 'inherit',
    env: { ...process.env, TEST_FILES: tests.join(','), RUNS: runs, COUNT: String(room.histories) },
  });
  if (done.status !== 0) throw new Error(`The mutants of src/${room.name} could not be tried: see the messages above.`);
  return JSON.parse(readFileSync(report, 'utf8')) as Report;
}

/** The text that a mutant changed, in one line. */
function before(source: string, { start, end }: Mutant['location']): string {
  const lines = source.split('\n').slice(start.line - 1, end.line);
  const last = lines.length - 1;
  lines[last] = (lines[last] ?? '').slice(0, end.column - 1);
  lines[0] = (lines[0] ?? '').slice(start.column - 1);
  return oneLine(lines.join(' '));
}
const oneLine = (text: string): string => text.replace(/\s+/g, ' ').trim();

interface Figures {
  killed: number;
  timeout: number;
  survived: number;
  ignored: number;
  explained: number;
}
const none = (): Figures => ({ killed: 0, timeout: 0, survived: 0, ignored: 0, explained: 0 });
const triedOf = (f: Figures): number => f.killed + f.timeout + f.survived;
const scoreOf = (f: Figures): number => (triedOf(f) === 0 ? 1 : (f.killed + f.timeout) / triedOf(f));

/** Counts the mutants of one file; reports survivors, and reasons that do not hold. */
function count(file: string, { source, mutants }: Report['files'][string], problems: string[]): Figures {
  const figures = none();
  const reasons = new Set(
    EXPLAINED.filter((e) => e.file === file).flatMap(({ changes }) => changes.map(([was, is]) => `${was} => ${is}`)),
  );
  const survivors = new Set<string>();
  for (const mutant of mutants) {
    const change = `${before(source, mutant.location)} => ${oneLine(mutant.replacement ?? '')}`;
    if (mutant.status === 'Killed' || mutant.status === 'RuntimeError') figures.killed++;
    else if (mutant.status === 'Timeout') figures.timeout++;
    else if (mutant.status === 'Ignored') figures.ignored++;
    else {
      figures.survived++;
      survivors.add(change);
      const isExplained = reasons.has(change);
      if (isExplained) figures.explained++;
      else if (values.survivors) console.log(`  ${file}:${mutant.location.start.line}  ${change}`);
    }
  }
  for (const reason of reasons)
    if (values.sample === '1' && !survivors.has(reason))
      problems.push(`${file}: "${reason}" is explained, but it was killed or is not made`);
  return figures;
}

const COLUMNS = ['mutants', 'killed', 'timeout', 'survived', 'explained', 'texts', 'score'];
const row = (name: string, cells: readonly string[]): string =>
  name.padEnd(44) + cells.map((cell) => cell.padStart(10)).join('');
const cellsOf = (f: Figures): string[] => [
  ...[triedOf(f), f.killed, f.timeout, f.survived, f.explained, f.ignored].map(String),
  `${(scoreOf(f) * 100).toFixed(1)} %`,
];

setPriority(10);
const wanted = values.only
  .split(',')
  .map((path) => (existsSync(`src/${path}`) ? `src/${path}` : `src/${path.replace(/\.ts$/, '')}.ts`));
const missing = wanted.find((path) => !existsSync(path) || !ROOMS.some(({ name }) => isIn(name, path)));
if (missing !== undefined) {
  console.error(`There is no ${missing} in ${ROOMS.map(({ name }) => `src/${name}`).join(', ')}.`);
  process.exit(2);
}
const problems: string[] = [];
for (const room of ROOMS) {
  const files = wanted.filter((path) => isIn(room.name, path)).flatMap(filesUnder);
  if (files.length === 0) continue;
  const report = mutate(room, files);
  console.log(row(`src/${room.name}`, COLUMNS));
  const total = none();
  for (const [file, tried] of Object.entries(report.files).sort(([a], [b]) => (a < b ? -1 : 1))) {
    const figures = count(file, tried, problems);
    for (const key of Object.keys(total) as (keyof Figures)[]) total[key] += figures[key];
    console.log(row(file, cellsOf(figures)));
  }
  console.log(row(`all of them`, cellsOf(total)));
  if (scoreOf(total) < ENOUGH)
    problems.push(`src/${room.name}: fewer than ${ENOUGH * 100} % of the mutants are killed`);
}
for (const problem of problems) console.log(`NOT AS PROMISED: ${problem}`);
process.exitCode = problems.length > 0 ? 1 : 0;
