/** The page runs in a browser: of the house it may take types, and from the desk's api also constants. */
import { readdirSync, readFileSync } from 'node:fs';
import { join, relative, resolve } from 'node:path';
import { fileURLToPath } from 'node:url';
import { describe, expect, it } from 'vitest';

const SRC = fileURLToPath(new URL('../../../src', import.meta.url));
const PAGE = join(SRC, 'desk', 'page');
const FILES = readdirSync(PAGE, { recursive: true, encoding: 'utf8' }).filter((file) => /\.tsx?$/.test(file));

/** Modules that a file imports for more than types. */
function takes(file: string): string[] {
  const path = join(PAGE, file);
  const imports = readFileSync(path, 'utf8').matchAll(/^import (?!type )([^;]*?)(?:from )?'(\.[^']+)';$/gm);
  return [...imports].map(([, , from = '']) => relative(SRC, resolve(path, '..', from)).replaceAll('\\', '/'));
}

describe('the page', () => {
  it('has files to look at, and they import each other', () => {
    expect(FILES.length).toBeGreaterThan(20);
    expect(FILES.flatMap(takes).length).toBeGreaterThan(40);
  });

  it.each(FILES)('%s takes nothing but types from outside the desk’s page and api', (file) => {
    expect(takes(file).filter((from) => !/^desk\/(page|api)\//.test(from))).toEqual([]);
  });
});
