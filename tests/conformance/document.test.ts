/** The published page lists the clauses that are judged, word by word, and no other. */
import { readFileSync } from 'node:fs';
import { describe, expect, it } from 'vitest';
import { LINE_CLAUSES } from '../../scripts/conformance/line/clauses.ts';

const read = (path: string) => readFileSync(new URL(`../../protocols/${path}`, import.meta.url), 'utf8');
const PAGE = read('CONFORMANCE.md');

/** The rows of the page that begin with a clause of this letter. */
const rows = (letter: string): string[] =>
  PAGE.split('\n').filter((line) => new RegExp(`^\\| ${letter}\\d+\\.\\d+ \\|`).test(line));
/** The headings of a document, and the names that it sets in bold or in code. */
const headings = (path: string): string[] => [...read(path).matchAll(/^## (.+)$/gm)].map(([, title = '']) => title);

describe.each([['L', LINE_CLAUSES, 'line/README.md']] as const)('clauses %s', (letter, clauses, document) => {
  it('stand on the page with section and promise, in the order in which they are judged', () => {
    expect(rows(letter)).toEqual(
      clauses.map(({ id, section, promise }) => `| ${id} | ${section} | ${promise.replaceAll('|', '\\|')} |`),
    );
  });

  it('are each of a section that the document has', () => {
    const titles = headings(document);
    const ofNone = clauses.filter(({ section }) => !titles.some((title) => section.split(':')[0] === title));
    expect(ofNone.map(({ id, section }) => `${id} ${section}`)).toEqual([]);
  });

  it('have numbers of their own', () => {
    expect(new Set(clauses.map(({ id }) => id)).size).toBe(clauses.length);
  });
});
