/** The parts of documents that are made from the program's own lists are current. */
import { readFileSync } from 'node:fs';
import { join } from 'node:path';
import { describe, expect, it } from 'vitest';
import { MARKED_PARTS, withPart } from '../../scripts/documents/marked-parts.ts';
import { FAULT_CODES } from '../../src/core/fault.ts';
import { faults } from '../../src/desk/page/words/en/faults.ts';
import { ROOT } from './program-names.ts';

describe('a part of a document that is made from a list of the program', () => {
  it.each(Object.entries(MARKED_PARTS))('%s is current: else run "npm run documents"', (name, { file, text }) => {
    const document = readFileSync(join(ROOT, file), 'utf8');
    expect(document).toBe(withPart(document, name, text()));
    expect(text().split('\n').length).toBeGreaterThan(10);
  });

  it('is noticed where somebody has changed it by hand', () => {
    const document = 'a\n<!-- made: x (npm run documents) -->\nby hand\n<!-- end: x -->\nb\n';
    expect(withPart(document, 'x', 'made')).toBe(document.replace('by hand', 'made'));
    expect(withPart(withPart(document, 'x', 'made'), 'x', 'made')).toBe(document.replace('by hand', 'made'));
  });

  it.each([
    ['not at all', 'a\n'],
    ['twice', '<!-- made: x (npm run documents) -->\n<!-- end: x -->\n'.repeat(2)],
    ['without an end', '<!-- made: x (npm run documents) -->\n'],
  ])('is refused where it is marked %s', (_how, document) => {
    expect(() => withPart(document, 'x', 'made')).toThrow('is not marked once');
  });
});

describe('the messages of the desk', () => {
  it('are for faults that there are, but for the one that the page finds by itself', () => {
    const known: readonly string[] = FAULT_CODES;
    expect(Object.keys(faults).filter((code) => !known.includes(code))).toEqual(['AWAY']);
  });
});
