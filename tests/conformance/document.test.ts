/** The published page lists the clauses that are judged, word by word, and no other. */
import { readFileSync } from 'node:fs';
import { describe, expect, it } from 'vitest';
import { ASTM_CLAUSES } from '../../scripts/conformance/astm/clauses.ts';
import { LINE_CLAUSES } from '../../scripts/conformance/line/clauses.ts';

const read = (path: string) => readFileSync(new URL(`../../protocols/${path}`, import.meta.url), 'utf8');
const PAGE = read('CONFORMANCE.md');

/** The rows of the page that begin with a clause of this letter. */
const rows = (letter: string): string[] =>
  PAGE.split('\n').filter((line) => new RegExp(`^\\| ${letter}\\d+\\.\\d+ \\|`).test(line));
/** The headings of a document. */
const headings = (path: string): string[] => [...read(path).matchAll(/^## (.+)$/gm)].map(([, title = '']) => title);

describe.each<[string, readonly { id: string; section: string; promise: string }[], readonly string[]]>([
  ['L', LINE_CLAUSES, ['line/README.md']],
  ['A', ASTM_CLAUSES, ['astm/README.md', 'meters/README.md']],
])('clauses %s', (letter, clauses, documents) => {
  it('stand on the page with section and promise, in the order in which they are judged', () => {
    expect(rows(letter)).toEqual(
      clauses.map(({ id, section, promise }) => `| ${id} | ${section} | ${promise.replaceAll('|', '\\|')} |`),
    );
  });

  it('are each of a section that the document has', () => {
    const titles = documents.flatMap(headings);
    const ofNone = clauses.filter(({ section }) => !titles.some((title) => section.split(':')[0] === title));
    expect(ofNone.map(({ id, section }) => `${id} ${section}`)).toEqual([]);
  });

  it('have numbers of their own', () => {
    expect(new Set(clauses.map(({ id }) => id)).size).toBe(clauses.length);
  });
});

describe('the page', () => {
  it('names every option of the command line', () => {
    const source = readFileSync(new URL('../../scripts/conformance/main.ts', import.meta.url), 'utf8');
    const options = [...source.matchAll(/'(--[a-z]+)[ ']/g)].map(([, option]) => option);
    expect(options.length).toBeGreaterThan(5);
    expect(options.filter((option) => !PAGE.includes(`| \`${option}`))).toEqual([]);
  });
});
