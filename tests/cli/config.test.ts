/** `config.toml`: strict, and an error names file, line and key. */
import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterEach, beforeEach, describe, expect, it } from 'vitest';
import { dockZone, parseConfig, readConfig } from '../../src/cli/config.ts';

describe('the config of a dock', () => {
  let folder = '';
  beforeEach(() => {
    folder = mkdtempSync(join(tmpdir(), 'tallydock-config-'));
  });
  afterEach(() => rmSync(folder, { recursive: true, force: true }));

  it('may be absent', () => {
    expect(readConfig(folder)).toEqual({});
  });

  it('is read from the data folder', () => {
    writeFileSync(join(folder, 'config.toml'), '# Port Alder\nzone = "Europe/Lisbon"\n');
    expect(readConfig(folder)).toEqual({ zone: 'Europe/Lisbon' });
  });

  it.each([
    ['zone = "Europe/Lisbon"\nzon = 1\n', 'config.toml line 2: "zon" is not a setting'],
    ['\n\nzone = 5\n', 'config.toml line 3: "zone"'],
    ['zone = "Atlantis/Port_Alder"\n', 'config.toml line 1: "zone" names no time zone: "Atlantis/Port_Alder"'],
    ['zone = ""\n', 'config.toml line 1: "zone"'],
    ['# one\nzone = Europe\n', 'config.toml line 2: '],
    ['[dock]\nname = "x"\n', 'config.toml line 1: "dock" is not a setting'],
  ])('is refused where it is wrong: %j', (text, message) => {
    expect(() => parseConfig(text, 'config.toml')).toThrowError(
      expect.objectContaining({ code: 'CONFIG_INVALID', message: expect.stringContaining(message) }),
    );
  });

  it('gives way to the zone of the call, and itself goes before the zone of the computer', () => {
    expect(dockZone('Asia/Kathmandu', { zone: 'Europe/Lisbon' })).toBe('Asia/Kathmandu');
    expect(dockZone(undefined, { zone: 'Europe/Lisbon' })).toBe('Europe/Lisbon');
    expect(dockZone(undefined, {})).toBe(new Intl.DateTimeFormat().resolvedOptions().timeZone);
    expect(() => dockZone('Atlantis', {})).toThrowError(expect.objectContaining({ code: 'ZONE_UNKNOWN' }));
  });
});
