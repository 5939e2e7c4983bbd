/**
 * Changes `config.toml` for somebody: one setting, or one dock. The rest of the file stays as it was written, comments
 * included. The new text is read back before it takes the old one's place, and must differ in nothing but what was asked.
 */
import { existsSync, readFileSync } from 'node:fs';
import { join } from 'node:path';
import { parse, stringify } from 'smol-toml';
import { Fault } from '../core/fault.ts';
import { writeWhole } from '../store/write-whole.ts';
import { CONFIG_FILE, type Config, parseConfig } from './config.ts';

type Plain = Record<string, unknown>;

/** A dock as it stands in the file. */
export type WrittenDock = Readonly<Record<string, string | number | boolean>> & { readonly name: string };

/** What is to be changed. */
export type ConfigChange =
  /** `table` absent: at the top of the file. */
  | { readonly kind: 'set'; readonly table?: string; readonly key: string; readonly value: string }
  | { readonly kind: 'add-dock'; readonly dock: WrittenDock }
  | { readonly kind: 'remove-dock'; readonly name: string };

/** Changes the file of a data folder; gives the settings as they are then. Throws CONFIG_INVALID, FILE_UNWRITABLE. */
export function editConfig(folder: string, changes: readonly ConfigChange[]): Config {
  const file = join(folder, CONFIG_FILE);
  const before = existsSync(file) ? readFileSync(file, 'utf8') : '';
  const after = changes.reduce((text, change) => edited(text, change, file), before);
  const config = parseConfig(after, file);
  if (after !== before) writeWhole(file, after);
  return config;
}

/** The text with one change. Throws CONFIG_INVALID where the file is written in a way that this cannot follow. */
export function edited(text: string, change: ConfigChange, file: string): string {
  const lineEnd = text.includes('\r\n') ? '\r\n' : '\n';
  const lines = text === '' ? [] : text.replace(/\r?\n$/, '').split(/\r?\n/);
  const after = `${linesAfter(lines, change).join(lineEnd)}${lineEnd}`;
  let found: Plain | undefined;
  try {
    found = parse(after);
  } catch {
    found = undefined; // it is written in another way than this follows
  }
  if (found && JSON.stringify(sorted(found)) === JSON.stringify(sorted(wanted(parse(text), change)))) return after;
  throw new Fault(
    'CONFIG_INVALID',
    `${file} is written in a way that only a person can change`,
    `Write it in yourself: ${whatToWrite(change)}`,
  );
}

function linesAfter(lines: readonly string[], change: ConfigChange): readonly string[] {
  switch (change.kind) {
    case 'set':
      return withSetting(lines, change.table, change.key, change.value);
    case 'add-dock':
      return [...lines, ...(lines.length > 0 ? [''] : []), '[[dock]]', ...settings(change.dock)];
    case 'remove-dock':
      return withoutDock(lines, change.name);
  }
}

const settings = (table: Plain): string[] => stringify(table).trimEnd().split('\n');
const isHeader = (line: string): boolean => /^\s*\[/.test(line);

function withSetting(
  lines: readonly string[],
  table: string | undefined,
  key: string,
  value: string,
): readonly string[] {
  const [written = ''] = settings({ [key]: value });
  const header =
    table === undefined ? -1 : lines.findIndex((line) => line.trim().replace(/\s*#.*$/, '') === `[${table}]`);
  if (table !== undefined && header < 0) return [...lines, ...(lines.length > 0 ? [''] : []), `[${table}]`, written];
  const next = lines.findIndex((line, i) => i > header && isHeader(line));
  const end = next < 0 ? lines.length : next;
  const at = lines.findIndex((line, i) => i > header && i < end && line.trimStart().replace(/\s*=.*$/, '') === key);
  return at < 0 ? lines.toSpliced(header + 1, 0, written) : lines.toSpliced(at, 1, written);
}

function withoutDock(lines: readonly string[], name: string): readonly string[] {
  for (let from = 0; from < lines.length; from++) {
    if (lines[from]?.trim() !== '[[dock]]') continue;
    const next = lines.findIndex((line, i) => i > from && isHeader(line));
    const end = next < 0 ? lines.length : next;
    const block = parse(lines.slice(from + 1, end).join('\n'));
    if (block['name'] === name) return lines.toSpliced(from, end - from);
  }
  return lines;
}

/** The settings that must come out. */
function wanted(before: Plain, change: ConfigChange): Plain {
  const docks = Array.isArray(before['dock']) ? before['dock'] : [];
  switch (change.kind) {
    case 'set': {
      if (change.table === undefined) return { ...before, [change.key]: change.value };
      const table = before[change.table];
      return { ...before, [change.table]: { ...(isPlain(table) ? table : {}), [change.key]: change.value } };
    }
    case 'add-dock':
      return { ...before, dock: [...docks, change.dock] };
    case 'remove-dock': {
      const left = docks.filter((dock) => !isPlain(dock) || dock['name'] !== change.name);
      const { dock: _, ...rest } = before;
      return left.length === 0 ? rest : { ...rest, dock: left };
    }
  }
}

const isPlain = (value: unknown): value is Plain =>
  typeof value === 'object' && value !== null && !Array.isArray(value);

/** The same with every key in order, to compare. */
function sorted(value: unknown): unknown {
  if (Array.isArray(value)) return value.map(sorted);
  if (!isPlain(value)) return typeof value === 'bigint' ? Number(value) : value;
  return Object.fromEntries(
    Object.keys(value)
      .sort()
      .map((key) => [key, sorted(value[key])]),
  );
}

function whatToWrite(change: ConfigChange): string {
  if (change.kind === 'remove-dock') return `take out the dock "${change.name}".`;
  const table = change.kind === 'set' ? { [change.key]: change.value } : change.dock;
  const where = change.kind === 'add-dock' ? '[[dock]] ' : change.table === undefined ? '' : `[${change.table}] `;
  return `${where}${settings(table).join(', ')}`;
}
