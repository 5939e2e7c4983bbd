/**
 * What the scripts share: run a tool of the house, install the packages if they are missing, build if the sources are
 * newer. Everything is started with this Node and no shell, so that it works on Windows as well.
 */
import { spawnSync } from 'node:child_process';
import { existsSync, mkdirSync, mkdtempSync, readdirSync, readFileSync, renameSync, rmSync, statSync } from 'node:fs';
import { join, resolve } from 'node:path';
import { fileURLToPath } from 'node:url';
import { writeShipped } from './shipped.mjs';

/** The project's folder. */
export const root = resolve(fileURLToPath(new URL('..', import.meta.url)));

/** The tools by name: their entry files, run with this Node. */
const TOOLS = {
  biome: 'node_modules/@biomejs/biome/bin/biome',
  tsc: 'node_modules/typescript/bin/tsc',
  depcruise: 'node_modules/dependency-cruiser/bin/dependency-cruise.mjs',
  knip: 'node_modules/knip/bin/knip.js',
  vitest: 'node_modules/vitest/vitest.mjs',
  vite: 'node_modules/vite/bin/vite.js',
};

/** Runs this Node with arguments in the project's folder; returns the exit code and, if captured, what it printed. */
export function runNode(args, { capture = false, env = process.env } = {}) {
  const done = spawnSync(process.execPath, args, {
    cwd: root,
    env,
    stdio: capture ? ['ignore', 'pipe', 'inherit'] : 'inherit',
    encoding: 'utf8',
  });
  if (done.error) throw done.error;
  return { code: done.status ?? 1, text: done.stdout ?? '' };
}

/** Runs a tool of the house. */
export const runTool = (name, args, options) => runNode([join(root, TOOLS[name]), ...args], options);

/** Ends the script with a sentence when a step failed. */
export function orEnd(code, sentence) {
  if (code === 0) return;
  console.error(`\n${sentence}`);
  process.exit(1);
}

/** Installs the packages exactly as locked, if they are missing or not those of the lock file. */
export function ensurePackages() {
  if (arePackagesAsLocked()) return;
  console.log('Installing the packages (once; about a minute and a half where SQLite must be compiled) ...');
  const npm = process.env.npm_execpath;
  const options = { cwd: root, stdio: 'inherit' };
  const done = npm?.endsWith('.js')
    ? spawnSync(process.execPath, [npm, 'ci'], options)
    : spawnSync('npm ci', { ...options, shell: true }); // npm is a shell script on Windows
  orEnd(done.status ?? 1, 'The packages could not be installed. Check the network, then run the command again.');
}

/** npm writes what it installed beside the packages; optional ones of other platforms are rightly absent. */
function arePackagesAsLocked() {
  const installedFile = join(root, 'node_modules', '.package-lock.json');
  if (!existsSync(installedFile)) return false;
  const installed = JSON.parse(readFileSync(installedFile, 'utf8')).packages;
  const locked = JSON.parse(readFileSync(join(root, 'package-lock.json'), 'utf8')).packages;
  return Object.entries(locked).every(
    ([path, { version, optional }]) =>
      path === '' || installed[path]?.version === version || (optional && !installed[path]),
  );
}

/**
 * Builds the program, the desk's page and the lists of what is shipped with them into dist/, from nothing, so that no
 * file outlives its source. The new folder takes the place of the old one in one move: a program that is running
 * meanwhile never finds half of itself.
 */
export function build() {
  const cache = join(root, 'node_modules', '.cache');
  mkdirSync(cache, { recursive: true });
  const folder = mkdtempSync(join(cache, 'build-'));
  const { code: program } = runTool('tsc', ['-p', 'tsconfig.build.json', '--outDir', join(folder, 'new')]);
  const page = ['build', '--config', 'src/desk/page/vite.config.ts', '--logLevel', 'warn'];
  const code =
    program ||
    runTool('vite', page, { env: { ...process.env, DESK_PAGE_OUT: join(folder, 'new', 'desk', 'page') } }).code;
  if (code === 0) writeShipped(root, join(folder, 'new'));
  if (existsSync(join(folder, 'new'))) {
    if (existsSync(join(root, 'dist'))) renameSync(join(root, 'dist'), join(folder, 'old'));
    renameSync(join(folder, 'new'), join(root, 'dist'));
  }
  rmSync(folder, { recursive: true, force: true });
  return code;
}

/** Builds if the program is missing or older than any of its sources. */
export function ensureBuilt() {
  const program = join(root, 'dist', 'cli', 'main.js');
  if (existsSync(program) && statSync(program).mtimeMs > newestIn(join(root, 'src'))) return;
  orEnd(build(), 'The program could not be built: see the messages above.');
}

/** The newest change, in milliseconds since 1970, of any file or folder in a folder. */
function newestIn(folder) {
  let newest = statSync(folder).mtimeMs;
  for (const entry of readdirSync(folder, { withFileTypes: true })) {
    const path = join(folder, entry.name);
    newest = Math.max(newest, entry.isDirectory() ? newestIn(path) : statSync(path).mtimeMs);
  }
  return newest;
}
