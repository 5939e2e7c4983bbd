/** CHANGELOG keeps to the form of Keep a Changelog 1.1.0, and the version is the same wherever it stands. */
import { readFileSync } from 'node:fs';
import { join } from 'node:path';
import { describe, expect, it } from 'vitest';
import { readDocument } from './markdown.ts';
import { ROOT } from './program-names.ts';

const read = (file: string): string => readFileSync(join(ROOT, file), 'utf8');
const headings = readDocument('CHANGELOG.md', read('CHANGELOG.md')).headings;
const releases = headings.filter((h) => h.level === 2).map((h) => h.text);
const { version }: { version: string } = JSON.parse(read('package.json'));

describe('CHANGELOG', () => {
  it('begins with what is not released, then has releases with their days, newest first', () => {
    const [first, ...rest] = releases;
    expect(first).toBe('[Unreleased]');
    for (const release of rest) expect(release).toMatch(/^\[\d+\.\d+\.\d+\] - \d{4}-\d{2}-\d{2}$/);
    const days = rest.map((release) => release.slice(-10));
    expect(days).toEqual([...days].sort().reverse());
  });

  it('has the version of the package as its newest release', () => {
    expect(releases[1]).toMatch(new RegExp(`^\\[${version.replaceAll('.', '\\.')}\\] `));
  });

  it('sorts changes by the kinds that the form knows', () => {
    const kinds = headings.filter((h) => h.level === 3).map((h) => h.text);
    const known = ['Added', 'Changed', 'Deprecated', 'Removed', 'Fixed', 'Security'];
    expect(kinds.filter((kind) => !known.includes(kind))).toEqual([]);
  });
});

it('the lock file has the version of the package', () => {
  const lock: { version: string; packages: Record<string, { version: string }> } = JSON.parse(
    read('package-lock.json'),
  );
  expect([lock.version, lock.packages['']?.version]).toEqual([version, version]);
});
