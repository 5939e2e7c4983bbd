/**
 * `npm test`: from a fresh clone to the counted result. Installs what is missing, checks format, types and floors,
 * builds, and runs every test on the sources and the built program. The last line counts: `N passed, N failed, N skipped`.
 */
import { spawnSync } from 'node:child_process';
import { check } from './check.mjs';
import { build, ensurePackages, orEnd, runTool } from './steps.mjs';

/** Tests use these where they are there: a pseudo-terminal that can be unplugged, and SQLite's own command line. */
function ensureTestTools() {
  if (process.platform !== 'linux') return;
  const missing = [
    ['socat', '-V'],
    ['sqlite3', '-version'],
  ]
    .filter(([tool, ask]) => spawnSync(tool, [ask]).error)
    .map(([tool]) => tool);
  if (missing.length === 0) return;
  if (process.getuid?.() === 0) {
    console.log(`Installing ${missing.join(' and ')} for the tests ...`);
    const env = { ...process.env, DEBIAN_FRONTEND: 'noninteractive' };
    const apt = (...args) =>
      spawnSync('apt-get', [...args], { env, stdio: ['ignore', 'ignore', 'inherit'] }).status === 0;
    if (apt('-q', 'update') && apt('-q', '-y', 'install', '--no-install-recommends', ...missing)) return;
  }
  console.log(`Without ${missing.join(' and ')}: the tests go on with python3 in their place.`);
}

ensurePackages();
ensureTestTools();
check();
orEnd(build(), 'Build: see the messages above.');
process.exit(runTool('vitest', ['run', ...process.argv.slice(2)]).code);
