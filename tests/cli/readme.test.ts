/** README says what there is: every command, every option, every fault code, none missing and none invented. */
import { readFileSync } from 'node:fs';
import type { Command } from 'commander';
import { describe, expect, it } from 'vitest';
import { COMMANDS } from '../../src/cli/commands.ts';
import { FAULT_CODES } from '../../src/core/fault.ts';
import { CSV_COLUMNS } from '../../src/outlets/csv/csv-row.ts';

const readme = readFileSync(new URL('../../README.md', import.meta.url), 'utf8');

/** The text from a heading that matches up to the next heading of its level or above. */
function section(heading: RegExp): string {
  const lines = readme.split('\n');
  const from = lines.findIndex((line) => heading.test(line));
  if (from < 0) throw new Error(`README has no heading ${heading}`);
  const level = /^#+/.exec(lines[from] ?? '')?.[0].length ?? 0;
  const end = lines.findIndex((line, i) => i > from && (/^#+(?= )/.exec(line)?.[0].length ?? 9) <= level);
  return lines.slice(from, end < 0 ? undefined : end).join('\n');
}

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
