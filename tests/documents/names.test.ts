/** Documents and program agree, both ways: what a document names is there, and what is there is named in a document. */
import { readdirSync, readFileSync } from 'node:fs';
import { join } from 'node:path';
import { beforeAll, describe, expect, it } from 'vitest';
import { parseConfig } from '../../src/dock/config.ts';
import { unknownNames, unnamedNames } from './check-names.ts';
import { type Document, readDocument } from './markdown.ts';
import { type ProgramNames, programNames, ROOT } from './program-names.ts';

const FILES = [
  'README.md',
  'DEVELOPERS.md',
  'CHANGELOG.md',
  ...readdirSync(join(ROOT, 'protocols'), { recursive: true, encoding: 'utf8' })
    .filter((file) => file.endsWith('.md'))
    .map((file) => `protocols/${file.replaceAll('\\', '/')}`)
    .sort(),
];

const documents = new Map(FILES.map((file) => [file, readDocument(file, readFileSync(join(ROOT, file), 'utf8'))]));
const parse = (toml: string): void => void parseConfig(toml, 'config.toml');
let names: ProgramNames;
beforeAll(async () => {
  names = await programNames();
});

/** A document of our own making that stands beside the real ones. */
const made = (text: string): Document => readDocument('made.md', text);
const complaintsOf = (text: string): string[] => unknownNames(made(text), names, parse);

describe('a document', () => {
  it.each(FILES)('%s names nothing that the program does not have', (file) => {
    const document = documents.get(file);
    expect(document && unknownNames(document, names, parse)).toEqual([]);
  });

  it.each([
    ['a command', '`tallydock colect PORT`', 'there is no command "colect"'],
    ['a command below another', '`tallydock export cvs`', 'there is no command "export cvs"'],
    ['an option of a command', '```\ntallydock collect COM3 --bauds 9600\n```', '"collect" has no option --bauds'],
    ['an option that another command has', '`tallydock ports --wait 3`', '"ports" has no option --wait'],
    ['an option by itself', 'with `--wiat S`', 'there is no option --wiat'],
    ['the code of a fault', '| `PORT_BUZY` | what |', 'there is no fault and no variable PORT_BUZY'],
    ['a variable', 'where `TALLYDOCK_DATE` says', 'there is no fault and no variable TALLYDOCK_DATE'],
    ['a column', 'the column `meter_sn`', 'the program does not know "meter_sn"'],
    ['a reason for waiting', 'it waits as `time-vague`', 'the program does not know "time-vague"'],
    ['a setting', '```toml\n[desk]\nidle-minute = 10\n```', 'config.toml line 2: "idle-minute" is not a setting'],
    ['a setting that is commented out', '```toml\n[desk]\n# pem = "/a"\n```', 'there is no setting desk.pem'],
    ['a setting by its full name', '| `backup.every` |', 'there is no setting backup.every'],
    ['the value of a setting', '```toml\n[log]\nlevel = "loud"\n```', '"level" must be debug'],
    ['a table of settings', 'in `[docks]`', 'config.toml has no table [docks]'],
    ['settings outside a block of toml', '```\n[desk]\n```', 'settings stand in a block of toml'],
    ['a route', '`POST /api/readings/relase`', 'there is no route POST /api/readings/relase'],
    ['a route by another method', '`DELETE /api/state`', 'there is no route DELETE /api/state'],
    ['an exit code', 'leaves with 4 where', 'there is no exit code 4'],
    ['a file', 'see `src/dock/deamon.ts`', 'there is no file or folder src/dock/deamon.ts'],
    ['a script', '`npm run tset`', 'there is no script "tset"'],
    ['a proof', '`npm run proof magic`', 'there is no proof "magic"'],
    ['a heading', '[there](#nowhere)', 'no heading #nowhere'],
  ])('is complained of where it names %s that is not there', (_what, text, complaint) => {
    const complaints = complaintsOf(`# Title\n\n${text}\n`);
    expect(complaints).toHaveLength(1);
    expect(complaints[0]).toContain(complaint);
    expect(complaints[0]).toMatch(/^made\.md line [3-5]: /);
  });

  it('is not complained of where all its names are there', () => {
    const text = `# Title

\`tallydock collect COM3 --wait 120\`, \`--baud\`, \`PORT_BUSY\`, \`TALLYDOCK_DATA\`, \`meter_id\`, \`time-wide\`,
\`desk.idle-minutes\`, \`[backup]\`, \`GET /api/people/ALDER-017\`, \`/print/visit/:meter\`, \`src/cli/main.ts\`,
\`npm run proof clock\`, exit code 3, [here](#title).

\`\`\`toml
[desk]
port = 4781
# key = "/etc/key.pem"
\`\`\`
`;
    expect(complaintsOf(text)).toEqual([]);
  });

  it.each([
    ['a block of code that does not end', '```\ntallydock ports\n'],
    ['a piece of code that does not end in its line', 'see `tallydock\nports`\n'],
  ])('that has %s is refused', (_what, text) => {
    expect(() => made(text)).toThrow(/^made\.md line \d+: /);
  });
});

describe('the program', () => {
  it('has nothing that no document names', () => {
    expect(unnamedNames([...documents.values()], names)).toEqual([]);
  });

  it.each<[string, (names: ProgramNames) => ProgramNames, string]>([
    ['a command', (n) => ({ ...n, commands: new Map([...n.commands, ['dance', []]]) }), 'command dance'],
    ['an option', (n) => ({ ...n, commands: new Map([...n.commands, ['ports', ['--dance']]]) }), 'option --dance'],
    ['a fault', (n) => ({ ...n, faults: [...n.faults, 'PORT_DANCES'] }), 'fault PORT_DANCES'],
    [
      'a reason for waiting',
      (n) => ({ ...n, holds: [...n.holds, 'dance-doubtful'] }),
      'reason for waiting dance-doubtful',
    ],
    ['a setting', (n) => ({ ...n, config: [...n.config, 'desk.dance'] }), 'setting desk.dance'],
    ['a kind of outlet', (n) => ({ ...n, outlets: new Map([['dance', []]]) }), 'kind of outlet dance'],
    ['a setting of an outlet', (n) => ({ ...n, outlets: new Map([['csv', ['tempo']]]) }), 'setting of csv tempo'],
    ['an exit code', (n) => ({ ...n, exitCodes: [...n.exitCodes, 7] }), 'exit code 7'],
    ['a column', (n) => ({ ...n, outletCsv: [...n.outletCsv, 'dance'] }), 'column dance'],
    ['a table', (n) => ({ ...n, postgres: new Map([['dance', []]]) }), 'table dance'],
    ['a column of a table', (n) => ({ ...n, postgres: new Map([['site', ['tempo']]]) }), 'column of site tempo'],
    ['a field of a profile', (n) => ({ ...n, profile: [...n.profile, 'danceTempo'] }), 'field of a profile danceTempo'],
    ['a variable', (n) => ({ ...n, environment: ['TALLYDOCK_DANCE'] }), 'variable TALLYDOCK_DANCE'],
    ['a script', (n) => ({ ...n, scripts: [...n.scripts, 'dance'] }), 'script dance'],
  ])('is complained of where it has %s that no document names', (_what, change, complaint) => {
    const before = unnamedNames([...documents.values()], names);
    const after = unnamedNames([...documents.values()], change(names));
    expect(after.filter((line) => !before.includes(line))).toEqual([`no document names the ${complaint}`]);
  });

  it('is complained of where a document loses a name', () => {
    const [readme, ...others] = FILES;
    const text = readFileSync(join(ROOT, readme ?? ''), 'utf8');
    const before = unnamedNames([...documents.values()], names);
    const without = (name: string): string[] => {
      const cut = readDocument('README.md', text.replaceAll(name, 'GONE'));
      const all = [cut, ...others.flatMap((file) => documents.get(file) ?? [])];
      return unnamedNames(all, names).filter((line) => !before.includes(line));
    };
    expect(without('METER_ENDLESS')).toEqual(['no document names the fault METER_ENDLESS']);
    expect(without('tallydock incidents')).toEqual(['no document names the command incidents']);
    expect(without('store.warn-free-mb')).toEqual(['no document names the setting store.warn-free-mb']);
    // Named in another document as well.
    expect(without('first_download')).toEqual([]);
  });

  it('has a list of everything that is looked for, and none of them is empty', () => {
    for (const [kind, all] of Object.entries(names)) {
      const { size, length } = all as { readonly size?: number; readonly length?: number };
      expect(size ?? length ?? 0, kind).toBeGreaterThan(0);
    }
  });
});
