/** Changing config.toml for somebody: the rest stays as it was, and what cannot be followed is left to a person. */
import { existsSync, readFileSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import fc from 'fast-check';
import { parse } from 'smol-toml';
import { describe, expect, it } from 'vitest';
import { type ConfigChange, editConfig, edited } from '../../src/dock/edit-config.ts';
import { tempFolder } from '../store/temp-store.ts';

const FILE = `# the front desk of Port Alder
zone = "Europe/London"   # to be changed

[desk]
# as the IT wishes
port = 4781

[[dock]]
name = "front desk"
port = "COM3"

[[dock]]
name = "room 2"
port = "tcp://192.168.7.20:4001"

[backup]
folder = "D:\\\\backup"
`;

describe('a setting', () => {
  it('takes the place of the old one, and every other line stays', () => {
    const after = edited(FILE, { kind: 'set', key: 'zone', value: 'Europe/Lisbon' }, 'config.toml');
    expect(after).toBe(FILE.replace('zone = "Europe/London"   # to be changed', 'zone = "Europe/Lisbon"'));
  });

  it('is put into its table where that is there, and makes the table where it is not', () => {
    const inTable = edited(FILE, { kind: 'set', table: 'desk', key: 'clinic', value: 'Port "Alder"' }, 'config.toml');
    expect(inTable).toContain('[desk]\nclinic = "Port \\"Alder\\""\n# as the IT wishes\nport = 4781\n');
    expect(edited('', { kind: 'set', table: 'desk', key: 'clinic', value: 'Port Alder' }, 'config.toml')).toBe(
      '[desk]\nclinic = "Port Alder"\n',
    );
  });

  it('keeps the line ends of Windows', () => {
    const after = edited(
      'zone = "UTC"\r\n[desk]\r\nport = 1\r\n',
      { kind: 'set', key: 'zone', value: 'Europe/Lisbon' },
      'c',
    );
    expect(after).toBe('zone = "Europe/Lisbon"\r\n[desk]\r\nport = 1\r\n');
  });
});

describe('a dock', () => {
  const front = { name: 'lent meters', 'usb-serial': 'PA0042' };

  it('is added at the end and taken out again, leaving the file as it was', () => {
    const added = edited(FILE, { kind: 'add-dock', dock: front }, 'c');
    expect(added).toContain('[[dock]]\nname = "lent meters"\nusb-serial = "PA0042"\n');
    expect(edited(added, { kind: 'remove-dock', name: 'lent meters' }, 'c').trim()).toBe(FILE.trim());
  });

  it('that stands between others goes alone', () => {
    const after = edited(FILE, { kind: 'remove-dock', name: 'front desk' }, 'c');
    expect(parse(after)['dock']).toEqual([{ name: 'room 2', port: 'tcp://192.168.7.20:4001' }]);
    expect(after).toContain('[backup]');
  });
});

describe('a file that is written in another way', () => {
  it.each<[string, string, ConfigChange]>([
    [
      'docks in one line',
      'dock = [{ name = "a", port = "COM3" }]\n',
      { kind: 'add-dock', dock: { name: 'b', port: 'COM4' } },
    ],
    ['a table in one line', 'desk = { port = 1 }\n', { kind: 'set', table: 'desk', key: 'clinic', value: 'x' }],
    ['a dotted key', 'desk.clinic = "y"\n', { kind: 'set', table: 'desk', key: 'clinic', value: 'x' }],
  ])('is left alone, and it is said what to write: %s', (_, text, change) => {
    expect(() => edited(text, change, 'config.toml')).toThrow(/only a person can change/);
  });
});

describe('editConfig', () => {
  it('reads back what it wrote before the old file goes, and leaves that where the new one would be wrong', () => {
    const folder = tempFolder();
    const file = join(folder, 'config.toml');
    writeFileSync(file, FILE);
    const config = editConfig(folder, [{ kind: 'set', key: 'zone', value: 'Europe/Lisbon' }]);
    expect(config.zone).toBe('Europe/Lisbon');
    const before = readFileSync(file, 'utf8');
    expect(() => editConfig(folder, [{ kind: 'set', key: 'zone', value: 'Atlantis' }])).toThrow(/names no time zone/);
    expect(() => editConfig(folder, [{ kind: 'add-dock', dock: { name: 'front desk', port: 'COM9' } }])).toThrow(
      /another dock/,
    );
    expect(readFileSync(file, 'utf8')).toBe(before);
  });

  it('makes the file where there is none', () => {
    const folder = tempFolder();
    editConfig(folder, [{ kind: 'add-dock', dock: { name: 'front desk', port: 'COM3' } }]);
    expect(existsSync(join(folder, 'config.toml'))).toBe(true);
  });

  it('takes any words as words', () => {
    fc.assert(
      fc.property(fc.string({ unit: 'grapheme', maxLength: 60 }), (value) => {
        const after = edited(FILE, { kind: 'set', table: 'desk', key: 'clinic', value }, 'c');
        expect(parse(after)['desk']).toEqual({ clinic: value, port: 4781 });
        const { desk: _, ...rest } = parse(after);
        const { desk: __, ...before } = parse(FILE);
        expect(rest).toEqual(before);
      }),
    );
  });
});
