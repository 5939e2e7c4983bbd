/** README says what there is: every command, every option, every fault code, none missing and none invented. */
import { readFileSync } from 'node:fs';
import type { Command } from 'commander';
import { describe, expect, it } from 'vitest';
import { COMMANDS } from '../../src/cli/commands.ts';
import { HOLD_CODES } from '../../src/clinic/holds/hold.ts';
import { FAULT_CODES } from '../../src/core/fault.ts';
import { CSV_COLUMNS } from '../../src/outlets/csv/csv-row.ts';
import { ADDED_COLUMNS } from '../../src/outlets/csv/outgoing-row.ts';
import { RESEARCH_COLUMNS } from '../../src/outlets/research.ts';
import { cellsOf, readDocument, section as sectionOf } from './markdown.ts';
import { programNames } from './program-names.ts';

const readme = readFileSync(new URL('../../README.md', import.meta.url), 'utf8');

const document = readDocument('README.md', readme);
const section = (heading: RegExp): string => sectionOf(document, readme, heading);

/** The names in the first cells of the table in a part of the document. */
const namedIn = (heading: RegExp): string[] =>
  section(heading)
    .split('\n')
    .filter((line) => line.startsWith('| `'))
    .flatMap((line) => [...(cellsOf(line)[0] ?? '').matchAll(/`([^`]+)`/g)].map((m) => m[1] ?? ''));

/** A line of the shell as the words that a program is given. */
const wordsOf = (line: string): string[] =>
  [...line.matchAll(/"([^"]*)"|(\S+)/g)].map(([, quoted, plain]) => quoted ?? plain ?? '');

const optionsIn = (text: string): string[] => [...new Set(text.match(/--[a-z][a-z-]*/g) ?? [])].sort();
const COMMON = ['--data', '--help', '--json', '--quiet'];

/** The commands that do the work, with their full names: those of `export` are one level down. */
const WORKING = new Map<string, Command>();
for (const [name, entry] of Object.entries(COMMANDS)) {
  const command = await entry.load();
  if (command.commands.length === 0) WORKING.set(name, command);
  for (const inner of command.commands) WORKING.set(`${name} ${inner.name()}`, inner);
}
const TITLES = [...WORKING.keys()];
const workingCommand = (title: string): Command => {
  const command = WORKING.get(title);
  if (!command) throw new Error(`no command ${title}`);
  return command;
};

describe('README', () => {
  it('has a section for every command, and none for a command that does not exist', () => {
    const titles = [...readme.matchAll(/^### `tallydock ([a-z-]+(?: [a-z]+)?)[ `]/gm)].map((m) => m[1]);
    expect(titles.sort()).toEqual([...TITLES].sort());
  });

  it('names the options that every command takes', () => {
    expect(optionsIn(section(/^## Commands/).split('\n### ')[0] ?? '')).toEqual(COMMON);
  });

  it.each(TITLES)('names every option of %s, and no other', (title) => {
    const command = workingCommand(title);
    const there = command.options.map((option) => option.long).filter((long) => long && !COMMON.includes(long));
    const named = optionsIn(section(new RegExp(`^### \`tallydock ${title}[ \`]`))).filter((o) => !COMMON.includes(o));
    expect(named).toEqual([...there].sort());
  });

  it.each(TITLES)('shows an example of %s', (title) => {
    expect(section(new RegExp(`^### \`tallydock ${title}[ \`]`))).toMatch(new RegExp(`\`\`\`\\ntallydock ${title}`));
  });

  it('explains every fault code with its remedy, and invents none', () => {
    const rows = [...section(/^## Faults/).matchAll(/^\| `([A-Z_]+)` \| (.+?) \| (.+?) \|$/gm)];
    expect(rows.map((row) => row[1])).toEqual([...FAULT_CODES]);
    for (const [, , what, remedy] of rows) expect([what?.length, remedy?.length].every((n) => n && n > 10)).toBe(true);
  });

  it('explains every column of the CSV in its order', () => {
    const named = [...section(/^## The CSV/).matchAll(/^\| (`.+?) \|/gm)].flatMap(
      (row) => row[1]?.match(/[a-z_]+/g) ?? [],
    );
    expect(named).toEqual([...CSV_COLUMNS]);
  });

  it('explains the columns that the CSV outlet adds, and those of the table for research', () => {
    const added = section(/^### The files of the CSV outlet/).match(/`[a-z_]+`/g) ?? [];
    for (const column of ADDED_COLUMNS) expect(added).toContain(`\`${column}\``);
    expect(namedIn(/^### `tallydock export research`/)).toEqual([...RESEARCH_COLUMNS]);
  });

  it('explains every setting of config.toml, each once, and no other', async () => {
    const { config } = await programNames();
    const [table = ''] = section(/^### All settings/).split('\n\nHow readings');
    const named = table
      .split('\n')
      .filter((line) => line.startsWith('| `'))
      .flatMap((line) => [...(cellsOf(line)[0] ?? '').matchAll(/`([^`]+)`/g)].map((m) => m[1] ?? ''));
    expect(named.sort()).toEqual([...config].sort());
  });

  it('explains every variable that is our own', async () => {
    const { environment } = await programNames();
    const named = namedIn(/^### All settings/).filter((name) => /^[A-Z_]+$/.test(name));
    expect(named.sort()).toEqual(environment.filter((name) => name.startsWith('TALLYDOCK_')));
  });

  it('explains every setting of every kind of outlet, and no other', async () => {
    const { outlets } = await programNames();
    const rows = section(/^## Outlets/)
      .split('\n')
      .filter((line) => /^\| `(csv|postgres|fhir-|hl7-)/.test(line))
      .map((line) => cellsOf(line));
    // Values of a setting stand in brackets behind it.
    const named = rows.map(([kind = '', settings = '']) => [
      kind.replaceAll('`', ''),
      [...settings.replace(/\([^)]*\)/g, '').matchAll(/`([^`]+)`/g)].map((m) => m[1]).sort(),
    ]);
    expect(named).toEqual([...outlets].map(([kind, settings]) => [kind, [...settings].sort()]));
  });

  it('explains every reason for which a reading waits, and what helps', () => {
    expect(namedIn(/^### Why a reading waits/)).toEqual([...HOLD_CODES]);
  });

  it('gives the exit codes of the program', async () => {
    const { exitCodes } = await programNames();
    const named = [...section(/^### Exit codes/).matchAll(/(?:^|\. )(\d) [a-z]/gm)].map((m) => Number(m[1]));
    expect(named).toEqual([...exitCodes]);
  });

  const examples = document.blocks
    .flatMap((block) => block.text.split('\n'))
    .map((line) => line.replace(/^\$ /, ''))
    .filter((line) => line.startsWith('tallydock '));

  it.each([...new Set(examples)])('shows a call that the program takes: %s', async (line) => {
    const [, name = '', ...rest] = wordsOf(line);
    const command = await COMMANDS[name]?.load();
    if (!command) throw new Error(`no command ${name}`);
    let taken = 0;
    const quiet = (each: Command): void => {
      each.exitOverride().configureOutput({ writeErr: () => undefined });
      if (each.commands.length === 0) each.action(() => void taken++);
      each.commands.forEach(quiet);
    };
    quiet(command);
    await command.parseAsync(rest, { from: 'user' });
    expect(taken).toBe(1);
  });

  it('gives the job, the cautions and the two commands before anything else', () => {
    const [head] = readme.split('## What you see');
    expect(head).toContain('Not a medical device');
    expect(head).toContain('npm start\nnpm test');
  });
});

describe('the help of a command', () => {
  it.each(TITLES)('of %s explains every option in one plain sentence and gives examples', (title) => {
    const command = workingCommand(title);
    let help = '';
    command
      .configureOutput({
        writeOut: (text) => {
          help += text;
        },
      })
      .outputHelp();
    for (const option of command.options)
      expect(option.description.length, option.long ?? '').toBeGreaterThanOrEqual(8);
    expect(help).toMatch(/Examples?[:,]/);
    expect(help).toContain('tallydock ');
  });
});
