/**
 * The parts of documents that are made from the program's own lists, so that they cannot say something else. A part stands
 * between two comments that name it; `npm run documents` writes all of them, and a test finds those that are not current.
 */
import { faults } from '../../src/desk/page/words/en/faults.ts';
import { POSTGRES_TABLES } from '../../src/outlets/postgres/schema.ts';

/** One part: the document in which it stands, and the text that it must have, without a line end at either end. */
export interface MarkedPart {
  readonly file: string;
  readonly text: () => string;
}

const row = (...cells: readonly string[]): string => `| ${cells.map((c) => c.replaceAll('|', '\\|')).join(' | ')} |`;

/** What the desk says of every fault that it has words for, in the order of its catalogue. */
function deskMessages(): string {
  // AWAY is what the page itself finds; nothing else has a code for it.
  const rows = Object.entries(faults).map(([code, { says, todo }]) =>
    row(says, todo, code === 'AWAY' ? '–' : `\`${code}\``),
  );
  return [row('the desk says', 'what helps', 'code'), row('---', '---', '---'), ...rows].join('\n');
}

/** Every table of the PostgreSQL outlet with its columns, as its own comments say. */
const postgresTables = (): string =>
  POSTGRES_TABLES.map(({ name, comment, columns }) =>
    [
      `### \`${name}\`\n`,
      `${comment}\n`,
      row('column', 'type', 'what it holds'),
      row('---', '---', '---'),
      ...columns.map((c) => row(`\`${c.name}\``, `\`${c.type}\``, c.comment)),
    ].join('\n'),
  ).join('\n\n');

/** All parts by name. */
export const MARKED_PARTS: Readonly<Record<string, MarkedPart>> = {
  'desk-messages': { file: 'README.md', text: deskMessages },
  'postgres-tables': { file: 'protocols/outlets/postgres.md', text: postgresTables },
};

/** A document with one of its parts as it must be. Throws where the document does not mark it exactly once. */
export function withPart(document: string, name: string, text: string): string {
  const [begin, end] = [`<!-- made: ${name} (npm run documents) -->`, `<!-- end: ${name} -->`];
  const parts = document.split(begin);
  const [before = '', after = ''] = parts;
  const rest = after.split(end);
  if (parts.length !== 2 || rest.length !== 2) throw new Error(`the part "${name}" is not marked once`);
  return `${before}${begin}\n${text}\n${end}${rest[1]}`;
}
