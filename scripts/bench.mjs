/**
 * `npm run bench [NAME…]`: every measurement in scripts/bench/, or the named ones. Each prints its baseline, its
 * figure, the ratio of the two and the aim, all from the same run. At the end stand what was missed, and what went far
 * from the last run kept of the same machine. `npm run bench -- --keep` adds this run to scripts/bench/history.jsonl.
 */
import { appendFileSync, existsSync, mkdtempSync, readFileSync, rmSync } from 'node:fs';
import { cpus, tmpdir } from 'node:os';
import { join } from 'node:path';
import { runFolder } from './run-folder.mjs';
import { root } from './steps.mjs';

const HISTORY = join(root, 'scripts', 'bench', 'history.jsonl');
/** Less than this is the mood of the machine. */
const FAR = 1.25;

const linesOf = (file) =>
  existsSync(file)
    ? readFileSync(file, 'utf8')
        .split('\n')
        .filter((line) => line !== '')
        .map((line) => JSON.parse(line))
    : [];

const isKept = process.argv.includes('--keep');
process.argv = process.argv.filter((arg) => arg !== '--keep');

const folder = mkdtempSync(join(tmpdir(), 'tallydock-figures-'));
const file = join(folder, 'figures.jsonl');
process.env['TALLYDOCK_BENCH_FIGURES'] = file;
const start = Date.now();
const code = runFolder('bench');
const figures = linesOf(file);
rmSync(folder, { recursive: true });

const run = {
  at: new Date(start).toISOString(),
  version: JSON.parse(readFileSync(join(root, 'package.json'), 'utf8')).version,
  machine: `${cpus()[0]?.model ?? 'unknown'}, ${cpus().length} cores`,
  node: process.version,
  figures,
};
const before = linesOf(HISTORY).findLast((old) => old.machine === run.machine && old.node === run.node);
console.log(`\n${figures.length} figures in ${Math.round((Date.now() - start) / 1000)} s`);
for (const { what, isMet } of figures) if (isMet === false) console.log(`  missed: ${what}`);
for (const now of figures) {
  const old = before?.figures.find(({ what }) => what === now.what);
  // Ratios are compared where there are some: they know nothing of how busy the machine was.
  const [is, was] =
    now.ratio !== undefined && old?.ratio !== undefined ? [now.ratio, old.ratio] : [now.figure, old?.figure];
  if (was > 0 && (is / was > FAR || was / is > FAR))
    console.log(`  changed since ${before.at}: ${now.what}: ${was.toPrecision(3)}, now ${is.toPrecision(3)}`);
}
if (isKept) appendFileSync(HISTORY, `${JSON.stringify(run)}\n`);
process.exit(code);
