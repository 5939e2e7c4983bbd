/**
 * `npm test`: from a fresh clone to the counted result. Installs what is missing, checks format, types and floors,
 * builds, and runs every test on the sources and the built program. The last line counts: `N passed, N failed, N skipped`.
 */
import { spawnSync } from 'node:child_process';
import { existsSync } from 'node:fs';
import { check } from './check.mjs';
import { build, ensurePackages, orEnd, runTool } from './steps.mjs';

/** True where a program can be started. */
const isThere = (tool, ask = '--version') => !spawnSync(tool, [ask], { stdio: 'ignore' }).error;

/** Tests use these where they are there: the Debian package of each, and how to see whether it is installed. */
const TEST_TOOLS = [
  ['socat', () => isThere('socat', '-V')],
  ['sqlite3', () => isThere('sqlite3', '-version')],
  ['openssl', () => isThere('openssl', 'version')],
  ['chromium', () => isThere('chromium')],
  ['postgresql', () => isThere('initdb') || existsSync('/usr/lib/postgresql')],
];

function ensureTestTools() {
  if (process.platform !== 'linux') return;
  const missing = TEST_TOOLS.filter(([, has]) => !has()).map(([name]) => name);
  if (missing.length === 0) return;
  if (process.getuid?.() === 0) {
    console.log(`Installing ${missing.join(', ')} for the tests ...`);
    const env = { ...process.env, DEBIAN_FRONTEND: 'noninteractive' };
    const apt = (...args) =>
      spawnSync('apt-get', [...args], { env, stdio: ['ignore', 'ignore', 'inherit'] }).status === 0;
    if (apt('-q', 'update') && apt('-q', '-y', 'install', '--no-install-recommends', ...missing)) return;
  }
  console.log(`Not installed: ${missing.join(', ')}. The tests that need them will fail, but for socat and sqlite3.`);
}

ensurePackages();
ensureTestTools();
check();
orEnd(build(), 'Build: see the messages above.');
process.exit(runTool('vitest', ['run', ...process.argv.slice(2)]).code);
