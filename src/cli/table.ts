/** Plain tables for people: columns padded to their widest cell, a head over them, no frame. Pure. */

/** What a terminal may be given: a control character that a meter or a typist left in a text is shown as `?`. */
// biome-ignore lint/suspicious/noControlCharactersInRegex: these are the characters that must not reach a terminal
export const printable = (text: string): string => text.replace(/[\u0000-\u001f\u007f-\u009f\u2028\u2029]/g, '?');

/** A table written in pieces, so that a long list need not be held whole. */
export interface TableWriter {
  /** The next rows as lines, with the head before the first. Columns never become narrower than before. */
  rows(rows: readonly (readonly string[])[]): string;
}

/** A table with these column heads. A head that begins with `>` is a column of numbers: right-aligned. */
export function makeTable(heads: readonly string[]): TableWriter {
  const isRight = heads.map((head) => head.startsWith('>'));
  const names = heads.map((head) => head.replace(/^>/, ''));
  const widths = names.map((name) => name.length);
  let isHeadDue = true;
  const line = (cells: readonly string[]): string =>
    cells
      .map((cell, i) => (isRight[i] ? cell.padStart(widths[i] ?? 0) : cell.padEnd(widths[i] ?? 0)))
      .join('  ')
      .trimEnd();
  return {
    rows(rows) {
      const clean = rows.map((row) => row.map(printable));
      for (const row of clean) for (const [i, cell] of row.entries()) widths[i] = Math.max(widths[i] ?? 0, cell.length);
      const lines = isHeadDue ? [line(names), line(widths.map((width) => '-'.repeat(width)))] : [];
      isHeadDue = false;
      return [...lines, ...clean.map(line)].map((text) => `${text}\n`).join('');
    },
  };
}
