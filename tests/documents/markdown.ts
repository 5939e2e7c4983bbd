/**
 * Reads a document of the house. No parser of Markdown is among the packages, so the documents keep to a strict form, and
 * what does not is an error here:
 *
 * - A heading is a line of `#` and a space. A row of a table is a line that begins with `|`.
 * - A block of code is between two lines that begin with three backticks; behind the first of them there may be its
 *   language. Settings are in blocks of the language `toml`.
 * - A piece of code in a line is between two single backticks of the same line.
 */

/** A piece of code in a line. */
export interface Span {
  readonly text: string;
  /** From 1. */
  readonly line: number;
  /** True where it stands in a row of a table. */
  readonly inTable: boolean;
}

/** A block of code. */
interface Block {
  readonly language: string;
  readonly text: string;
  /** Of the first line between the fences, from 1. */
  readonly line: number;
}

/** What a document is made of. */
export interface Document {
  /** Its path from the project's folder. */
  readonly file: string;
  readonly spans: readonly Span[];
  readonly blocks: readonly Block[];
  /** The lines outside blocks, by number from 1. */
  readonly lines: ReadonlyMap<number, string>;
  readonly headings: readonly { readonly level: number; readonly text: string; readonly line: number }[];
}

/** Takes a document apart. Throws where it does not keep to the form above. */
export function readDocument(file: string, text: string): Document {
  const spans: Span[] = [];
  const blocks: Block[] = [];
  const lines = new Map<number, string>();
  const headings: { level: number; text: string; line: number }[] = [];
  let open: { language: string; from: number; lines: string[] } | undefined;
  for (const [i, line] of text.split('\n').entries()) {
    const fence = /^```(\w*)$/.exec(line);
    if (fence && open) {
      blocks.push({ language: open.language, text: open.lines.join('\n'), line: open.from });
      open = undefined;
    } else if (fence) open = { language: fence[1] ?? '', from: i + 2, lines: [] };
    else if (open) open.lines.push(line);
    else {
      lines.set(i + 1, line);
      const heading = /^(#+) (.+)$/.exec(line);
      if (heading) headings.push({ level: heading[1]?.length ?? 0, text: heading[2] ?? '', line: i + 1 });
      spans.push(...spansOf(line, i + 1, file));
    }
  }
  if (open) throw new Error(`${file} line ${open.from - 1}: this block of code does not end`);
  return { file, spans, blocks, lines, headings };
}

function spansOf(line: string, at: number, file: string): Span[] {
  const parts = line.split('`');
  if (parts.length % 2 === 0) throw new Error(`${file} line ${at}: a piece of code does not end in its line`);
  if (/``/.test(line)) throw new Error(`${file} line ${at}: a piece of code is empty, or has two backticks`);
  return parts.flatMap((text, i) => (i % 2 === 1 ? [{ text, line: at, inTable: line.startsWith('|') }] : []));
}

/** The lines from a heading on that matches, up to the next heading of its level or above. Throws where there is none. */
export function section(document: Document, text: string, heading: RegExp): string {
  const found = document.headings.find((h) => heading.test(`${'#'.repeat(h.level)} ${h.text}`));
  if (!found) throw new Error(`${document.file} has no heading ${heading}`);
  const next = document.headings.find((h) => h.line > found.line && h.level <= found.level);
  return text
    .split('\n')
    .slice(found.line - 1, next ? next.line - 1 : undefined)
    .join('\n');
}

/** The cells of a row of a table. A bar inside a piece of code is written with a backslash before it. */
export const cellsOf = (row: string): string[] =>
  row
    .replace(/^\||\|$/g, '')
    .split(/(?<!\\)\|/)
    .map((cell) => cell.trim());
