/**
 * What `npm pack` would put into the package: all that the program reads when it runs, and nothing else. The whole way,
 * with an install into an empty folder, is `npm run proof pack`.
 */
import { spawnSync } from 'node:child_process';
import { existsSync, readdirSync, readFileSync } from 'node:fs';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { beforeAll, describe, expect, it } from 'vitest';
import { BUILT_IN } from '../../src/wire/profile.ts';
import { isStray } from '../support/stray-file.ts';

const root = fileURLToPath(new URL('../..', import.meta.url));
let packed: readonly string[];

beforeAll(() => {
  if (!existsSync(join(root, 'dist', 'cli', 'main.js')))
    throw new Error('The program is not built: run "npm run build" first, as npm test does.');
  // npm is a script of the shell on Windows. The call is one constant text.
  const { stdout, stderr } = spawnSync('npm pack --dry-run --json --ignore-scripts', {
    cwd: root,
    encoding: 'utf8',
    shell: true,
  });
  const said: unknown = JSON.parse(stdout || 'null');
  if (!Array.isArray(said)) throw new Error(`npm pack said: ${stderr}`);
  packed = said[0].files.map((file: { path: string }) => file.path);
});

/** The files of a folder by their paths from the project's folder. */
const filesIn = (folder: string): string[] =>
  readdirSync(join(root, folder), { recursive: true, withFileTypes: true })
    .filter((entry) => entry.isFile())
    .map((entry) => join(entry.parentPath, entry.name).slice(root.length).replaceAll('\\', '/'));

describe('the package', () => {
  it('holds every module of the program', () => {
    const modules = filesIn('src')
      .filter((file) => file.endsWith('.ts') && !file.endsWith('.d.ts') && !file.startsWith('src/desk/page/'))
      .map((file) => file.replace(/^src/, 'dist').replace(/\.ts$/, '.js'));
    expect(modules.length).toBeGreaterThan(300);
    expect(modules.filter((file) => !packed.includes(file))).toEqual([]);
  });

  it('holds no module that has no source any more', () => {
    const stale = packed
      .filter((file) => file.endsWith('.js') && !file.startsWith('dist/desk/page/'))
      .filter((file) => !existsSync(join(root, file.replace(/^dist/, 'src').replace(/\.js$/, '.ts'))));
    expect(stale).toEqual([]);
  });

  it('holds the page of the desk with everything that the page names', () => {
    expect(packed).toContain('dist/desk/page/index.html');
    const html = readFileSync(join(root, 'dist/desk/page/index.html'), 'utf8');
    const named = [...html.matchAll(/(?:src|href)="\.\/([^"]+)"/g)].map(([, file]) => `dist/desk/page/${file}`);
    expect(named.length).toBeGreaterThanOrEqual(2);
    expect(named.filter((file) => !packed.includes(file))).toEqual([]);
  });

  it('holds the profiles and documents of protocols/, and what people read first', () => {
    expect(filesIn('protocols').filter((file) => !packed.includes(file))).toEqual([]);
    for (const name of BUILT_IN) expect(packed).toContain(`protocols/meters/${name}.json`);
    for (const file of ['package.json', 'README.md', 'CHANGELOG.md', 'LICENSE']) expect(packed).toContain(file);
  });

  it('holds the lists of what it is made with', () => {
    expect(packed).toContain('dist/sbom.cdx.json');
    expect(packed).toContain('dist/THIRD-PARTY.md');
  });

  it('holds nothing else: no test, no source, no map, no store, no secret', () => {
    expect(packed.filter(isStray)).toEqual([]);
  });

  it('starts its program with this Node', () => {
    const { bin } = JSON.parse(readFileSync(join(root, 'package.json'), 'utf8'));
    expect(packed).toContain(bin.tallydock);
    expect(readFileSync(join(root, bin.tallydock), 'utf8')).toMatch(/^#!\/usr\/bin\/env node\n/);
  });
});

describe('what does not belong into a package', () => {
  it.each([
    'tests/cli/program.test.ts',
    'src/cli/main.ts',
    'dist/cli/main.js.map',
    'dist/cli/main.ts',
    'dist/data/tallydock.db',
    'dist/desk-key.pem',
    'protocols/outlets/.env',
    'protocols/meters/real.capture.jsonl.bak',
    'node_modules/zod/index.js',
    '.npmrc',
    'package-lock.json',
    'DEVELOPERS.md',
  ])('%s is noticed', (file) => {
    expect(isStray(file)).toBe(true);
  });
});
