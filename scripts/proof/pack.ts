/**
 * The package as somebody gets it: `npm pack`, an install of the archive into an empty folder, and there, without
 * anything of this checkout, the program's version, a virtual meter, a collect, an export, the daemon with the page of
 * the desk and its script, a clean stop, and `check`. Nothing is published. `npm run proof pack`; where SQLite must be
 * compiled it takes about two minutes.
 */
import { type ChildProcess, spawn, spawnSync } from 'node:child_process';
import { once } from 'node:events';
import { existsSync, mkdirSync, mkdtempSync, readdirSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { createServer } from 'node:net';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { createInterface } from 'node:readline';
import { isStray } from '../../tests/support/stray-file.ts';

const HELD = 60;
const checkout = process.cwd();
const place = mkdtempSync(join(tmpdir(), 'tallydock-pack-'));
const empty = join(place, 'empty');
const data = join(place, 'data');
const running = new Set<ChildProcess>();
let failed = 0;

/** One promise of the package, kept or not. */
function promise(isKept: boolean, what: string, otherwise = ''): void {
  console.log(`  ${isKept ? 'kept  ' : 'BROKEN'} ${what}${isKept ? '' : `: ${otherwise.trim()}`}`);
  if (!isKept) failed++;
}

/** Runs a line of the shell: npm and npx are scripts of the shell on Windows. No part of it comes from outside. */
function shell(line: string, cwd: string) {
  const { status, stdout, stderr } = spawnSync(line, { cwd, shell: true, encoding: 'utf8' });
  return { code: status, out: stdout, err: stderr, said: `${stdout}${stderr}` };
}

/** What the program is told by its surroundings: no checkout, no data folder but that of this proof. */
const env = { ...process.env, TALLYDOCK_DATA: data, NODE_PATH: '' };
const program = join(empty, 'node_modules', 'tallydock', 'dist', 'cli', 'main.js');

/** Runs a command of the installed program to its end. */
function tallydock(...args: string[]) {
  const { status, stdout, stderr } = spawnSync(process.execPath, [program, ...args], {
    cwd: empty,
    env,
    encoding: 'utf8',
  });
  return { code: status, out: stdout, said: `${stdout}${stderr}` };
}

/** Starts a command of the installed program, and waits for its first line on stdout or stderr. */
async function start(stream: 'stdout' | 'stderr', ...args: string[]): Promise<{ child: ChildProcess; line: string }> {
  const child = spawn(process.execPath, [program, ...args], { cwd: empty, env, stdio: ['ignore', 'pipe', 'pipe'] });
  running.add(child);
  child.once('exit', () => running.delete(child));
  const [out, err] = [createInterface(child.stdout), createInterface(child.stderr)];
  const first = once(stream === 'stdout' ? out : err, 'line').then(([line]) => String(line));
  const line = await Promise.race([first, once(child, 'exit').then(() => '')]);
  return { child, line };
}

/** A TCP port that nobody has now. */
async function freePort(): Promise<number> {
  const server = createServer();
  server.listen(0, '127.0.0.1');
  await once(server, 'listening');
  const address = server.address();
  server.close();
  await once(server, 'close');
  return typeof address === 'object' && address ? address.port : 0;
}

/** Asks the desk until it answers, while the daemon runs. */
async function ask(url: string, daemon: ChildProcess): Promise<Response | undefined> {
  while (daemon.exitCode === null) {
    const answer = await fetch(url).catch(() => undefined);
    if (answer) return answer;
    await new Promise((resolve) => setTimeout(resolve, 100));
  }
  return undefined;
}

async function prove(): Promise<void> {
  const { version } = JSON.parse(readFileSync(join(checkout, 'package.json'), 'utf8'));
  mkdirSync(empty);
  mkdirSync(data, { mode: 0o700 });
  const packing = shell(`npm pack --json --ignore-scripts --pack-destination "${place}"`, checkout);
  const archive = readdirSync(place).find((file) => file.endsWith('.tgz')) ?? '';
  promise(archive === `tallydock-${version}.tgz`, `npm pack makes tallydock-${version}.tgz`, packing.said);
  const files: { path: string }[] = JSON.parse(packing.out)[0].files;
  promise(
    !files.some(({ path }) => isStray(path)),
    `${files.length} files are in it, and none that does not belong there`,
  );

  const installing = shell(`npm install --no-audit --no-fund "${join(place, archive)}"`, empty);
  promise(installing.code === 0, 'npm installs it into an empty folder', installing.said);
  if (installing.code !== 0) return;
  const strangers = ['preact', 'uplot', 'vitest', 'typescript'].filter((name) =>
    existsSync(join(empty, 'node_modules', name)),
  );
  promise(strangers.length === 0, 'without what only developers need', strangers.join(', '));

  const asked = shell('npx tallydock --version', empty);
  promise(asked.out.trim() === version, `npx tallydock --version says ${version}`, asked.said);
  const help = shell('npx tallydock', empty);
  promise(help.code === 0 && help.out.includes('virtual-meter'), 'npx tallydock lists its commands', help.said);

  const meter = await start('stdout', 'virtual-meter', '--tcp', '0', '--held', String(HELD), '--clock-lost', '--once');
  promise(meter.line.startsWith('tcp://'), `virtual-meter can be reached at ${meter.line}`, 'it said nothing');
  const collected = tallydock('collect', meter.line, '--json');
  const isWhole =
    collected.code === 0 && JSON.parse(collected.out.split('\n')[0] ?? '{}').downloads?.[0]?.complete === true;
  promise(isWhole, `collect reads it completely`, collected.said);
  const rows = tallydock('readings', '--json').out.split('\n').filter(Boolean);
  promise(rows.length === HELD, `${HELD} readings are there`, `${rows.length}`);
  const csv = tallydock('export', 'csv');
  promise(csv.code === 0 && csv.out.startsWith('reading_id,'), 'export csv writes them', csv.said);

  const port = await freePort();
  writeFileSync(join(data, 'config.toml'), `zone = "Europe/Lisbon"\n\n[desk]\nport = ${port}\n`, { mode: 0o600 });
  const daemon = await start('stderr', 'serve');
  const url = `http://127.0.0.1:${port}/`;
  const page = await ask(url, daemon.child);
  const html = (await page?.text()) ?? '';
  promise(page?.status === 200 && html.includes('<script'), 'serve answers with the page of the desk', daemon.line);
  const named = [...html.matchAll(/(?:src|href)="\.\/([^"]+)"/g)].map(([, file]) => file ?? '');
  for (const file of named) {
    const answer = await fetch(new URL(file, url));
    const size = (await answer.arrayBuffer()).byteLength;
    promise(answer.status === 200 && size > 100, `… and with ${file}`, `${answer.status}, ${size} bytes`);
  }
  promise(
    named.some((file) => file.endsWith('.js')),
    '… which is where its script is',
  );
  const state: { version?: string; isFirstRun?: boolean } = JSON.parse(
    await (await fetch(new URL('api/state', url))).text(),
  );
  promise(
    state.version === version && state.isFirstRun === true,
    '… and begins with the first run',
    JSON.stringify(state),
  );
  const health = tallydock('status', '--health');
  promise(health.code === 0, 'status --health says that it is well', health.said);
  const gone = once(daemon.child, 'exit');
  const stopped = tallydock('serve', '--stop');
  promise(stopped.code === 0, 'serve --stop stops it', stopped.said);
  const [code] = await gone;
  promise(code === 0, '… with exit code 0', String(code));

  const checked = tallydock('check', '--json');
  const { good, findings } = JSON.parse(checked.out);
  promise(checked.code === 0 && good === true, 'check finds nothing that somebody must do', JSON.stringify(findings));
}

console.log(`  in ${place}, Node ${process.version}, ${process.platform} ${process.arch}`);
try {
  await prove();
} catch (thrown) {
  promise(false, 'the proof runs to its end', String(thrown));
} finally {
  for (const child of running) child.kill();
  rmSync(place, { recursive: true, force: true });
}
if (failed > 0) {
  console.error(`  The package does not hold ${failed} of its promises.`);
  process.exitCode = 1;
}
