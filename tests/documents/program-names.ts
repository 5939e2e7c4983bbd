/**
 * What the program calls its things, taken from the program itself: its commands and options as commander has them, its
 * settings as their schemas have them, the codes of its faults, its columns, its routes. What has no list of its own (the
 * words of enumerations, the keys of JSON, variables of the environment) is taken from the texts of the sources.
 */
import { mkdtempSync, readdirSync, readFileSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import type { Command } from 'commander';
import { z } from 'zod';
import { COMMANDS } from '../../src/cli/commands.ts';
import { HOLD_CODES } from '../../src/clinic/holds/hold.ts';
import { DEFAULT_POLICY } from '../../src/clinic/rules/policy.ts';
import { FAULT_CODES, Fault } from '../../src/core/fault.ts';
import { instant } from '../../src/core/instant.ts';
import { makeDesk } from '../../src/desk/app.ts';
import type { DeskTools } from '../../src/desk/tools.ts';
import { ConfigSchema } from '../../src/dock/config.ts';
import { CSV_COLUMNS } from '../../src/outlets/csv/csv-row.ts';
import { ADDED_COLUMNS } from '../../src/outlets/csv/outgoing-row.ts';
import { OUTLET_KINDS } from '../../src/outlets/kinds.ts';
import { POSTGRES_TABLES } from '../../src/outlets/postgres/schema.ts';
import { RESEARCH_COLUMNS } from '../../src/outlets/research.ts';
import { openStore } from '../../src/store/open-store.ts';
import { MeterProfileSchema } from '../../src/wire/profile.ts';

/** The project's folder. */
export const ROOT = fileURLToPath(new URL('../..', import.meta.url));

/** Every name that a document may use, by what it is of. */
export interface ProgramNames {
  /** The commands that do the work, by their full names (`export csv`), with their options (`--out`). */
  readonly commands: ReadonlyMap<string, readonly string[]>;
  /** Names that commands begin with (`export`). */
  readonly groups: ReadonlySet<string>;
  readonly faults: readonly string[];
  readonly exitCodes: readonly number[];
  /** Settings of `config.toml` by their full names (`dock.usb-serial`). */
  readonly config: readonly string[];
  /** Settings of each kind of outlet. */
  readonly outlets: ReadonlyMap<string, readonly string[]>;
  /** Fields of a meter profile, of the first floor. */
  readonly profile: readonly string[];
  readonly holds: readonly string[];
  readonly csv: readonly string[];
  readonly outletCsv: readonly string[];
  readonly research: readonly string[];
  /** Columns of each table of the PostgreSQL outlet. */
  readonly postgres: ReadonlyMap<string, readonly string[]>;
  /** `GET /api/state`, with `:name` for a part that varies. */
  readonly routes: readonly string[];
  /** Variables of the environment that the program, and only that, reads; and those that scripts and tests read. */
  readonly environment: readonly string[];
  readonly developersEnvironment: readonly string[];
  /** Options that scripts read (`--inputs`). */
  readonly scriptOptions: readonly string[];
  /** The scripts of package.json. */
  readonly scripts: readonly string[];
  /** Words with a hyphen or an underscore that stand in the sources of the program as a text or a key. */
  readonly words: ReadonlySet<string>;
  /** Every path of the checkout that is under version control or could be, from the project's folder. */
  readonly paths: ReadonlySet<string>;
}

/** Collects them. */
export async function programNames(): Promise<ProgramNames> {
  const commands = new Map<string, readonly string[]>();
  for (const [name, entry] of Object.entries(COMMANDS)) collect(commands, name, await entry.load());
  const program = sourcesIn('src');
  const forDevelopers = [...sourcesIn('scripts'), ...sourcesIn('tests')];
  const manifest: { scripts: object } = JSON.parse(readFileSync(join(ROOT, 'package.json'), 'utf8'));
  return {
    commands,
    groups: new Set(Object.keys(COMMANDS)),
    faults: FAULT_CODES,
    exitCodes: [...new Set([0, ...FAULT_CODES.map((code) => new Fault(code, '', '').exitCode)])].sort(),
    config: leavesOf(jsonSchema(ConfigSchema)),
    outlets: new Map(
      Object.entries(OUTLET_KINDS).map(([kind, { settings }]) => [kind, leavesOf(jsonSchema(settings))] as const),
    ),
    profile: Object.keys(jsonSchema(MeterProfileSchema).properties ?? {}),
    holds: HOLD_CODES,
    csv: CSV_COLUMNS,
    outletCsv: [...CSV_COLUMNS, ...ADDED_COLUMNS],
    research: RESEARCH_COLUMNS,
    postgres: new Map(POSTGRES_TABLES.map(({ name, columns }) => [name, columns.map((c) => c.name)] as const)),
    routes: routesOf(),
    environment: environmentOf(program),
    developersEnvironment: environmentOf(forDevelopers),
    scriptOptions: optionsOf(forDevelopers),
    scripts: Object.keys(manifest.scripts),
    words: wordsOf(program),
    paths: pathsOf(),
  };
}

function collect(into: Map<string, readonly string[]>, title: string, command: Command): void {
  for (const inner of command.commands) collect(into, `${title} ${inner.name()}`, inner);
  if (command.commands.length > 0) return;
  into.set(
    title,
    [...command.options.flatMap((option) => option.long ?? []), '--help'].sort(), // help is no option to commander
  );
}

/** As much of a JSON schema as is looked at here. */
interface JsonSchema {
  readonly properties?: Readonly<Record<string, JsonSchema>>;
  readonly items?: JsonSchema;
}

const jsonSchema = (schema: z.ZodType): JsonSchema =>
  z.toJSONSchema(schema, { io: 'input', unrepresentable: 'any' }) as JsonSchema;

/** The full names of the settings of a schema: those that have no settings inside. */
function leavesOf(schema: JsonSchema, before = ''): string[] {
  return Object.entries(schema.properties ?? {}).flatMap(([name, inner]) => {
    const full = `${before}${name}`;
    const inside = inner.properties ? inner : inner.items?.properties ? inner.items : undefined;
    return inside ? leavesOf(inside, `${full}.`) : [full];
  });
}

/** The routes of the desk, over an empty store: nothing is asked, and nothing listens. */
function routesOf(): string[] {
  const dir = mkdtempSync(join(tmpdir(), 'tallydock-names-'));
  const now = () => instant(0);
  const store = openStore({ dir, now: now() });
  try {
    const tools: Partial<DeskTools> = { store, now, policy: () => DEFAULT_POLICY };
    return makeDesk(tools as DeskTools).routes.map(({ method, path }) => `${method} ${path}`);
  } finally {
    store.close();
    rmSync(dir, { recursive: true });
  }
}

/** The texts of all sources in a folder; not what is found by running them. */
function sourcesIn(folder: string): string[] {
  return readdirSync(join(ROOT, folder), { recursive: true, encoding: 'utf8' })
    .filter((file) => /\.(ts|tsx|mjs)$/.test(file) && !/^documents[\\/]/.test(file))
    .map((file) => readFileSync(join(ROOT, folder, file), 'utf8'));
}

/** The variables that sources read: `env['NAME']`, `process.env.NAME`, and constants that are called a variable. */
function environmentOf(sources: readonly string[]): string[] {
  const found = sources.flatMap((source) => [
    ...[...source.matchAll(/\benv(?:\[')([A-Z][A-Z0-9_]+)'\]/g)].map((m) => m[1]),
    ...[...source.matchAll(/\benv\.([A-Z][A-Z0-9_]+)\b/g)].map((m) => m[1]),
    ...[...source.matchAll(/_VARIABLE = '([A-Z][A-Z0-9_]+)'/g)].map((m) => m[1]),
  ]);
  return [...new Set(found.flatMap((name) => name ?? []))].sort();
}

const optionsOf = (sources: readonly string[]): string[] => [
  ...new Set([
    ...sources.flatMap((source) => source.match(/--[a-z][a-z-]*/g) ?? []),
    ...sources.flatMap((source) => [...source.matchAll(/\boption\('([a-z-]+)'/g)].map((m) => `--${m[1]}`)),
    ...sources.flatMap((source) =>
      [...source.matchAll(/\b(?:number|text|list)\('([a-z-]+)'/g)].map((m) => `--${m[1]}`),
    ),
  ]),
];

/** What is said to people in comments is no name of the program. */
const withoutComments = (source: string): string =>
  source.replace(/\/\*[\s\S]*?\*\//g, '').replace(/(^|\s)\/\/.*$/gm, '');

function wordsOf(sources: readonly string[]): ReadonlySet<string> {
  const words = new Set<string>();
  for (const source of sources.map(withoutComments)) {
    for (const [, word] of source.matchAll(/['"`]([a-z0-9]+(?:-[a-z0-9]+)+)['"`]/g)) words.add(word ?? '');
    for (const [word] of source.matchAll(/\b[a-z][a-z0-9]*(?:_[a-z0-9]+)+\b/g)) words.add(word);
  }
  return words;
}

/** What git would not keep is not looked at: packages, what was built, the demo. */
function pathsOf(): ReadonlySet<string> {
  const top = readdirSync(ROOT).filter((name) => !['node_modules', 'dist', 'coverage', 'demo', '.git'].includes(name));
  const deep = ['src', 'tests', 'scripts', 'protocols', '.ci'].flatMap((folder) =>
    readdirSync(join(ROOT, folder), { recursive: true, encoding: 'utf8' }).map(
      (file) => `${folder}/${file.replaceAll('\\', '/')}`,
    ),
  );
  return new Set([...top, ...deep]);
}
