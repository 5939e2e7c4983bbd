/**
 * Finds the line of a setting in the text of a config file, so that an error can name it. Knows tables, lists of
 * tables and keys as people write them; where a setting stands in an inline table, the line of that table is given.
 */

/** Where a setting stands: keys, and places in lists of tables, from the top: `['dock', 1, 'baud']`. */
export type KeyPath = readonly (string | number)[];

const HEADER = /^\s*(\[\[?)([^\]#]+)\]/;
const KEY = /^\s*((?:"[^"]*"|'[^']*'|[A-Za-z0-9_-]+)(?:\s*\.\s*(?:"[^"]*"|'[^']*'|[A-Za-z0-9_-]+))*)\s*=/;

/** The line, from 1, on which a setting stands; else that of the nearest table around it; else 1. */
export function lineOf(text: string, path: KeyPath): number {
  const wanted = path.map(String);
  const counts = new Map<string, number>();
  let table: string[] = [];
  let best = { line: 1, depth: 0 };
  const consider = (found: readonly string[], line: number): void => {
    const isAround = found.length <= wanted.length && found.every((part, i) => part === wanted[i]);
    if (isAround && found.length > best.depth) best = { line, depth: found.length };
  };
  for (const [i, line] of text.split('\n').entries()) {
    const header = HEADER.exec(line);
    if (header) {
      table = partsOf(header[2] ?? '');
      if (header[1] === '[[') {
        const name = table.join('\u0001');
        const place = counts.get(name) ?? 0;
        counts.set(name, place + 1);
        if (place === 0) consider(table, i + 1);
        table = [...table, String(place)];
      }
      consider(table, i + 1);
      continue;
    }
    const key = KEY.exec(line);
    if (key) consider([...table, ...partsOf(key[1] ?? '')], i + 1);
  }
  return best.line;
}

/** The parts of a dotted key, without their quotes. */
const partsOf = (dotted: string): string[] =>
  [...dotted.matchAll(/"([^"]*)"|'([^']*)'|([A-Za-z0-9_-]+)/g)].map(
    ([, double, single, bare]) => double ?? single ?? bare ?? '',
  );
