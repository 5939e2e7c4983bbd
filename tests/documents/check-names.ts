/**
 * Holds documents against the names of the program, both ways: what a document names and the program does not have, and
 * what the program has and no document names. Pure. Each complaint is one line that says where.
 */
import type { Document, Span } from './markdown.ts';
import type { ProgramNames } from './program-names.ts';

/** Names that look like ours and are others': by whom, and in which sense. */
const FOREIGN: ReadonlySet<string> = new Set([
  'max_connections', // a setting of PostgreSQL
  'transaction-response', // words of FHIR
  'observation-reagent',
  'data-absent-reason',
  'ORU_R01', // structures of HL7
  'ORU_R30',
  'build-essential', // packages and tools
  'better-sqlite3',
  'dependency-cruiser',
]);

/** Variables that the system or a library sets or reads, not we. */
const SYSTEM_VARIABLES: ReadonlySet<string> = new Set([
  'CC',
  'CXX',
  'DEBIAN_FRONTEND',
  'LANG',
  'LC_ALL',
  'LC_CTYPE',
  'LOCALAPPDATA',
  'NODE_EXTRA_CA_CERTS', // Node's own: authorities that it trusts besides those it knows
  'NODE_PATH',
  'RUNTIME_DIRECTORY', // of systemd
  'TERM',
  'TZ',
  'XDG_DATA_HOME',
  'XDG_RUNTIME_DIR',
]);

/** What one document names and the program does not have. `parse` accepts a text of settings, or throws. */
export function unknownNames(document: Document, names: ProgramNames, parse: (toml: string) => void): string[] {
  const at = (line: number, what: string): string => `${document.file} line ${line}: ${what}`;
  const complaints = document.spans.flatMap((span) => aboutSpan(span, names).map((what) => at(span.line, what)));
  for (const block of document.blocks) {
    if (block.language === 'toml') {
      complaints.push(...aboutSettings(block.text, names, parse).map((what) => at(block.line, what)));
      continue;
    }
    for (const [i, line] of block.text.split('\n').entries()) {
      const text = line.replace(/^\$ /, '');
      if (/^\[\[?[a-z]+\]\]?$/.test(text)) complaints.push(at(block.line + i, 'settings stand in a block of toml'));
      const isCall = /^(tallydock|npm|npx) /.test(text);
      if (isCall) complaints.push(...aboutCall(text.replace(/\s+#.*$/, ''), names).map((w) => at(block.line + i, w)));
    }
  }
  for (const [line, text] of document.lines) {
    for (const [, digit] of text.matchAll(/(?:\bexit codes?|\bleaves with) (\d+)/gi))
      if (!names.exitCodes.includes(Number(digit))) complaints.push(at(line, `there is no exit code ${digit}`));
    for (const [, place] of text.matchAll(/\]\(#([^)]+)\)/g))
      if (!document.headings.some((h) => anchorOf(h.text) === place)) complaints.push(at(line, `no heading #${place}`));
  }
  return complaints;
}

/** How a heading is called in a link: the rule of the usual viewers of Markdown. */
const anchorOf = (heading: string): string =>
  heading
    .toLowerCase()
    .replace(/[^\p{L}\p{N} _-]/gu, '')
    .replaceAll(' ', '-');

/** A piece of code that is, as a whole, a name of one of the kinds. */
function aboutSpan({ text }: Span, names: ProgramNames): string[] {
  if (/^(tallydock|npm|npx) /.test(text)) return aboutCall(text, names);
  const complaints: string[] = [];
  for (const [option] of text.matchAll(/(?<![\w-])--[a-z][a-z-]*/g))
    if (!isOption(option, names)) complaints.push(`there is no option ${option}`);
  for (const [name] of text.matchAll(/\b[A-Z][A-Z0-9]*(?:_[A-Z0-9]+)+\b/g))
    if (!isShouted(name, names)) complaints.push(`there is no fault and no variable ${name}`);
  const [, table] = /^\[\[?([a-z]+)\]\]?$/.exec(text) ?? [];
  if (table !== undefined && !names.config.some((key) => key.startsWith(`${table}.`)))
    complaints.push(`config.toml has no table [${table}]`);
  if (/^(?:[A-Z]+ )?\/(?:api|print)\b/.test(text) && !isRoute(text, names))
    complaints.push(`there is no route ${text}`);
  if (isPathLike(text) && !isPath(text, names)) complaints.push(`there is no file or folder ${text}`);
  if (isWordLike(text) && !isWord(text, names)) complaints.push(`the program does not know "${text}"`);
  if (/^(?:dock|store|clinic|desk|log|backup)\.[a-z-]+$/.test(text) && !names.config.includes(text))
    complaints.push(`there is no setting ${text}`);
  return complaints;
}

/** A call of the program, or of npm. */
function aboutCall(call: string, names: ProgramNames): string[] {
  const [tool, ...words] = call.split(/\s+/);
  if (tool === 'npx' && words[0] === 'tallydock') return aboutCall(call.replace(/^npx /, ''), names);
  if (tool !== 'tallydock') {
    if (tool !== 'npm' || words[0] !== 'run') return [];
    const [, script = '', ...rest] = words;
    const folder = script === 'bench' || script === 'proof' ? script : undefined;
    const part = rest.find((word) => /^[a-z]/.test(word));
    return [
      ...(names.scripts.includes(script) ? [] : [`there is no script "${script}"`]),
      ...(folder && part && !names.paths.has(`scripts/${folder}/${part}.ts`)
        ? [`there is no ${folder} "${part}"`]
        : []),
      ...optionsIn(call)
        .filter((o) => !names.scriptOptions.includes(o))
        .map((o) => `there is no option ${o}`),
    ];
  }
  const [first = '', second = ''] = words;
  // Placeholders, and what is asked of the program itself.
  if (/^([A-Z]+$|-V$|--version$|--help$)/.test(first)) return [];
  const title = names.commands.has(`${first} ${second}`) ? `${first} ${second}` : first;
  const options = names.commands.get(title);
  if (!options) {
    const isGroup = names.groups.has(title) && (second === '' || second.startsWith('-'));
    return isGroup ? [] : [`there is no command "${title}${names.groups.has(title) ? ` ${second}` : ''}"`];
  }
  return optionsIn(call)
    .filter((option) => !options.includes(option))
    .map((option) => `"${title}" has no option ${option}`);
}

const optionsIn = (text: string): string[] => [...text.matchAll(/(?<![\w-])--[a-z][a-z-]*/g)].map(([option]) => option);

/** Settings are read as the program reads them; of those that are commented out the names are looked at. */
function aboutSettings(text: string, names: ProgramNames, parse: (toml: string) => void): string[] {
  const complaints: string[] = [];
  try {
    parse(text);
  } catch (thrown) {
    complaints.push(thrown instanceof Error ? thrown.message : String(thrown));
  }
  let table = '';
  for (const line of text.split('\n')) {
    table = /^\[\[?([a-z]+)\]\]?/.exec(line)?.[1] ?? table;
    const [, key] = /^# ?([a-z-]+) = /.exec(line) ?? [];
    const full = table === '' ? key : `${table}.${key}`;
    if (key !== undefined && full !== undefined && !names.config.includes(full))
      complaints.push(`there is no setting ${full}`);
  }
  return complaints;
}

const isOption = (option: string, { commands, scriptOptions }: ProgramNames): boolean =>
  [...commands.values()].some((options) => options.includes(option)) || scriptOptions.includes(option);

const isShouted = (name: string, { faults, environment, developersEnvironment }: ProgramNames): boolean =>
  [...faults, ...environment, ...developersEnvironment].includes(name) ||
  SYSTEM_VARIABLES.has(name) ||
  FOREIGN.has(name);

/** `/api/people/:id` and `/api/people/ALDER-017` are the same route. */
function isRoute(text: string, { routes }: ProgramNames): boolean {
  const [, method, path = ''] = /^(?:([A-Z]+) )?(\S+)$/.exec(text) ?? [];
  return routes.some((route) => {
    const [verb, shape = ''] = route.split(' ');
    if (method !== undefined && verb !== method) return false;
    const parts = shape.split('/').map((part) => (part.startsWith(':') ? '[^/]+' : part));
    return !shape.includes('*') && new RegExp(`^${parts.join('/')}$`).test(path);
  });
}

const isPathLike = (text: string): boolean =>
  (/^(src|tests|scripts|protocols|\.ci)\//.test(text) || /^[a-z][\w/-]*\.(ts|tsx|mjs|cjs)$/.test(text)) &&
  !/[A-Z]{3}|[*…]/.test(text.replace(/README\.md$/, ''));

/** As a whole, or as the end of a path: documents leave out the folder that they speak of. */
function isPath(text: string, { paths }: ProgramNames): boolean {
  const bare = text.replace(/\/$/, '');
  return paths.has(bare) || [...paths].some((path) => path.endsWith(`/${bare}`));
}

const isWordLike = (text: string): boolean =>
  /^[a-z][a-z0-9]*(?:-[a-z0-9]+)+$/.test(text) || /^[a-z][a-z0-9]*(?:_[a-z0-9]+)+$/.test(text);

function isWord(text: string, names: ProgramNames): boolean {
  const isName = names.words.has(text) || names.groups.has(text) || FOREIGN.has(text);
  return isName || names.paths.has(`protocols/meters/${text}.json`);
}

/** What the program has and none of the documents names. */
export function unnamedNames(documents: readonly Document[], names: ProgramNames): string[] {
  const spans = documents.flatMap((document) => document.spans);
  const texts = new Set(spans.map(({ text }) => text));
  // `A`, `B` in one piece of code, or with what is given to it, name each of them.
  const tokens = new Set([...texts].flatMap((text) => text.split(/[\s,=[\]]+/)));
  const calls = [
    ...texts,
    ...documents.flatMap((d) => d.blocks.flatMap((b) => b.text.split('\n').map((line) => line.replace(/^\$ /, '')))),
  ];
  const isCalled = (title: string): boolean =>
    calls.some((call) => call === `tallydock ${title}` || call.startsWith(`tallydock ${title} `));
  const lacks = (kind: string, all: readonly string[], isNamed = (name: string) => tokens.has(name)): string[] =>
    all.filter((name) => !isNamed(name)).map((name) => `no document names the ${kind} ${name}`);
  const lines = documents.flatMap((document) => [...document.lines.values()]);
  const said = new Set(
    lines.flatMap((line) => [...line.matchAll(/(?:^|\. |exit codes? )(\d)(?= [a-z])/g)].map((m) => m[1])),
  );
  return [
    ...lacks('command', [...names.commands.keys()], isCalled),
    ...lacks('option', [...new Set([...names.commands.values()].flat())]),
    ...lacks('fault', names.faults),
    ...lacks('reason for waiting', names.holds),
    ...lacks('setting', names.config),
    ...[...names.outlets].flatMap(([kind, settings]) => [
      ...lacks('kind of outlet', [kind]),
      ...lacks(`setting of ${kind}`, settings),
    ]),
    ...lacks('exit code', names.exitCodes.map(String), (code) => said.has(code)),
    ...lacks('column', [...names.outletCsv, ...names.research]),
    ...[...names.postgres].flatMap(([table, columns]) => [
      ...lacks('table', [table]),
      ...lacks(`column of ${table}`, columns),
    ]),
    ...lacks('field of a profile', names.profile),
    ...lacks(
      'variable',
      [...names.environment, ...names.developersEnvironment].filter((name) => !SYSTEM_VARIABLES.has(name)),
    ),
    ...lacks('script', names.scripts, (script) => calls.some((call) => isScript(call, script))),
  ];
}

const isScript = (call: string, script: string): boolean => new RegExp(`^npm (?:run )?${script}(?: |$)`).test(call);
