/**
 * What is shipped besides our own code: the bill of materials and the list of licences. The bill is held against the list
 * that npm itself makes of the lock file, and against the rules of CycloneDX 1.6 that concern it: the required members,
 * the patterns of serial number and hashes, unique references, and dependencies that name only what is listed. (It was
 * also found valid by the published JSON schema of 1.6; that schema is not among our packages.)
 */
import { spawnSync } from 'node:child_process';
import { mkdtempSync, readFileSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { describe, expect, it, onTestFinished } from 'vitest';

interface Component {
  readonly name: string;
  readonly version: string;
  readonly licence?: string;
  readonly isBundled: boolean;
}
interface Bill {
  readonly bomFormat: string;
  readonly specVersion: string;
  readonly serialNumber: string;
  readonly version: number;
  readonly metadata: { readonly component: { readonly 'bom-ref': string; readonly version: string } };
  readonly components: readonly {
    readonly type: string;
    readonly 'bom-ref': string;
    readonly purl: string;
    readonly name: string;
    readonly version: string;
    readonly hashes: readonly { readonly alg: string; readonly content: string }[];
    readonly licenses: readonly { readonly license?: { readonly id: string }; readonly expression?: string }[];
  }[];
  readonly dependencies: readonly { readonly ref: string; readonly dependsOn: readonly string[] }[];
}
interface Lock {
  readonly packages: Readonly<Record<string, object>>;
}
/** scripts/shipped.mjs, which is plain JavaScript so that a build needs nothing before it. */
interface Shipped {
  readonly ALLOWED: readonly string[];
  isAllowed(expression: unknown): boolean;
  licenceTrouble(components: readonly Partial<Component>[]): string[];
  importedPackages(sources: readonly string[]): string[];
  componentsOf(lock: Lock, bundled: readonly string[]): { components: Component[]; uses: string[] };
  missingPackages(manifest: { dependencies?: Readonly<Record<string, string>> }, sources: readonly string[]): string[];
  readShipped(root: string): { components: Component[]; missing: string[] };
  writeShipped(root: string, folder: string): Component[];
}

const root = fileURLToPath(new URL('../..', import.meta.url));
const shipped = (await import(new URL('../../scripts/shipped.mjs', import.meta.url).href)) as Shipped;

/** Writes both files into a folder of their own. */
function written(): { bill: Bill; text: string; list: string } {
  const folder = mkdtempSync(join(tmpdir(), 'tallydock-bill-'));
  onTestFinished(() => rmSync(folder, { recursive: true }));
  shipped.writeShipped(root, folder);
  const text = readFileSync(join(folder, 'sbom.cdx.json'), 'utf8');
  return { bill: JSON.parse(text), text, list: readFileSync(join(folder, 'THIRD-PARTY.md'), 'utf8') };
}

/**
 * What npm itself says is installed where nobody develops. ("npm sbom" is no help: it leaves out what is also needed by a
 * package for development, such as commander and zod.)
 */
function listedByNpm(): string[] {
  const ask = 'npm ls --omit=dev --all --package-lock-only --parseable --long';
  const { stdout, stderr } = spawnSync(ask, { cwd: root, encoding: 'utf8', shell: true });
  if (!stdout) throw new Error(`npm ls said: ${stderr}`);
  const names = stdout.split('\n').flatMap((line) => /:((?:@[^@:/]+\/)?[^@:/]+@[^@:]+)$/.exec(line)?.[1] ?? []);
  return [...new Set(names)].filter((name) => !name.startsWith('tallydock@')).sort();
}

describe('the bill of materials', () => {
  it('lists what npm installs, and besides it what is built into the page', () => {
    const { bill } = written();
    const { components } = shipped.readShipped(root);
    expect(components.filter((c) => c.isBundled).map((c) => c.name)).toEqual(['preact', 'uplot']);
    const bundled = components.filter((c) => c.isBundled).map((c) => `${c.name}@${c.version}`);
    const listed = bill.components.map((c) => c.purl.replace('pkg:npm/', '').replace('%40', '@'));
    const installed = listed.filter((name) => !bundled.includes(name));
    expect(installed.length).toBe(components.length - 2);
    expect(installed.sort()).toEqual(listedByNpm());
  });

  it('keeps the rules of CycloneDX 1.6', () => {
    const { bill } = written();
    expect(bill).toMatchObject({ bomFormat: 'CycloneDX', specVersion: '1.6', version: 1 });
    expect(bill.serialNumber).toMatch(/^urn:uuid:[0-9a-f]{8}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{12}$/);
    const refs = [bill.metadata.component['bom-ref'], ...bill.components.map((c) => c['bom-ref'])];
    expect(new Set(refs).size).toBe(refs.length);
    for (const component of bill.components) {
      expect(component.type).toBe('library');
      expect(component.purl).toMatch(/^pkg:npm\/(%40[a-z0-9._-]+\/)?[a-z0-9._-]+@\d[\w.+-]*$/);
      expect(component.hashes).toEqual([{ alg: 'SHA-512', content: expect.stringMatching(/^[0-9a-f]{128}$/) }]);
      expect(component.licenses).toHaveLength(1);
    }
    expect(bill.dependencies.map((d) => d.ref).sort()).toEqual([...refs].sort());
    const reached = new Set(bill.dependencies.flatMap((d) => d.dependsOn));
    expect([...reached].filter((ref) => !refs.includes(ref))).toEqual([]);
    expect(refs.slice(1).filter((ref) => !reached.has(ref))).toEqual([]);
  });

  it('is the same each time it is made', () => {
    expect(written().text).toBe(written().text);
  });
});

describe('the list of licences', () => {
  it('has a row for every package, and the whole licence of what is built into the page', () => {
    const { list } = written();
    const { components } = shipped.readShipped(root);
    for (const c of components) expect(list).toContain(`| ${c.name} | ${c.version} | ${c.licence} |`);
    for (const c of components.filter((x) => x.isBundled)) {
      const own = list.slice(list.indexOf(`## ${c.name} ${c.version}`)).split('\n## ')[0] ?? '';
      expect(own).toMatch(/Copyright \(c\) \d{4}/);
      expect(own).toContain('Permission is hereby granted');
    }
  });

  it('finds nothing that may not be shipped', () => {
    expect(shipped.licenceTrouble(shipped.readShipped(root).components)).toEqual([]);
  });

  it.each([
    ['MIT', true],
    ['(MIT OR WTFPL)', true],
    ['(BSD-2-Clause OR MIT OR Apache-2.0)', true],
    ['MIT AND ISC', true],
    ['MPL-2.0', true],
    ['MIT AND GPL-3.0-only', false],
    ['GPL-3.0-only OR AGPL-3.0-only', false],
    ['(MIT OR (GPL-3.0-only AND ISC))', false],
    ['GPL-2.0-only WITH Classpath-exception-2.0', false],
    ['SEE LICENSE IN LICENSE', false],
    ['UNLICENSED', false],
    ['mit', false],
    ['', false],
    [undefined, false],
  ])('takes "%s" as allowed: %s', (expression, allowed) => {
    expect(shipped.isAllowed(expression)).toBe(allowed);
  });

  it('names a package with another licence, and one with none', () => {
    const found = shipped.licenceTrouble([
      { name: 'good', version: '1.0.0', licence: 'ISC' },
      { name: 'closed', version: '2.0.0', licence: 'UNLICENSED' },
      { name: 'silent', version: '3.0.0' },
    ]);
    expect(found).toEqual(['closed 2.0.0: UNLICENSED', 'silent 3.0.0: no licence is named']);
  });
});

describe('the packages that the program imports', () => {
  it('are all brought by an install', () => {
    expect(shipped.readShipped(root).missing).toEqual([]);
  });

  it('are named where they are only there for developers', () => {
    const source =
      "import { parse } from 'tables/sync';\nimport { z } from 'zod';\nimport { join } from 'node:path';\n";
    expect(shipped.missingPackages({ dependencies: { zod: '4.6.7' } }, [source])).toEqual(['tables']);
    expect(shipped.missingPackages({}, [source])).toEqual(['tables', 'zod']);
  });
});

describe('the packages of a lock file', () => {
  const lock: Lock = {
    packages: {
      '': { dependencies: { a: '1' }, devDependencies: { b: '1', unused: '1' } },
      'node_modules/a': {
        version: '1.0.0',
        license: 'MIT',
        dependencies: { c: '1' },
        optionalDependencies: { gone: '1' },
      },
      'node_modules/a/node_modules/c': { version: '1.5.0', license: 'MIT', peerDependencies: { d: '1' } },
      'node_modules/b': { version: '1.0.0', license: 'MIT', dependencies: { c: '2' } },
      'node_modules/c': { version: '2.0.0', license: 'MIT' },
      'node_modules/d': { version: '1.0.0', license: 'MIT' },
      'node_modules/unused': { version: '1.0.0', license: 'MIT' },
    },
  };

  it('are those that the program reaches, each where it would be found, and those built in', () => {
    const { components, uses } = shipped.componentsOf(lock, ['b']);
    expect(components.map((c) => [c.name, c.version, c.isBundled])).toEqual([
      ['a', '1.0.0', false],
      ['b', '1.0.0', true],
      ['c', '1.5.0', false],
      ['c', '2.0.0', true],
      ['d', '1.0.0', false],
    ]);
    expect(uses).toEqual(['a@1.0.0', 'b@1.0.0']);
  });

  it('are refused where one that is needed is not there', () => {
    expect(() => shipped.componentsOf(lock, ['nowhere'])).toThrow('package-lock.json has no nowhere');
  });
});

it('packages are found in every form of import, and nothing else is taken for one', () => {
  const source = `
import { render } from 'preact';
import {
  useState,
} from 'preact/hooks';
import '@scope/styles/one.css';
export { x } from "zod";
import { join } from 'node:path';
import { own } from './own.ts';
const later = await import('uplot');
const words = { a: 'taken from', b: 'nowhere' };
`;
  expect(shipped.importedPackages([source])).toEqual(['@scope/styles', 'preact', 'uplot', 'zod']);
});
