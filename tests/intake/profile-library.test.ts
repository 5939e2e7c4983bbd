import { mkdirSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { describe, expect, it } from 'vitest';
import { loadProfiles, USER_METERS } from '../../src/intake/profile-library.ts';
import { BUILT_IN } from '../../src/wire/profile.ts';
import { tempFolder } from '../store/temp-store.ts';

/** A data folder with these profile files. */
function folderWith(files: Readonly<Record<string, string>>): string {
  const dir = tempFolder();
  mkdirSync(join(dir, USER_METERS));
  for (const [name, text] of Object.entries(files)) writeFileSync(join(dir, USER_METERS, name), text);
  return dir;
}

describe('the meter profiles at hand', () => {
  it('always hold the generic ones, also without a data folder', () => {
    const { get, wrong } = loadProfiles(join(tempFolder(), 'none'));
    for (const name of BUILT_IN) expect(get(name).name).toBe(name);
    expect(wrong).toEqual([]);
  });

  it('are refused where one of the generic ones is not there: the program was not installed whole', () => {
    const own = tempFolder();
    expect(() => loadProfiles(tempFolder(), join(own, 'none'))).toThrow(/"tlp-generic" is not in/);
    for (const name of BUILT_IN.slice(1))
      writeFileSync(join(own, `${name}.json`), JSON.stringify({ name, protocol: 'astm', memory: { order: 'newest' } }));
    expect(() => loadProfiles(tempFolder(), own)).toThrow(expect.objectContaining({ code: 'FILE_MISSING' }));
    writeFileSync(join(own, 'tlp-generic.json'), '{"name":"tlp-generic","protocol":"line"}');
    expect(
      loadProfiles(tempFolder(), own)
        .all()
        .map((p) => p.name),
    ).toEqual([...BUILT_IN].sort());
  });

  it('hold the files of the user', () => {
    const dir = folderWith({ 'a.json': '{"name":"port-alder-9","protocol":"line","driftPpm":20}', 'notes.txt': 'no' });
    expect(loadProfiles(dir).get('port-alder-9').driftPpm).toBe(20);
    expect(
      loadProfiles(dir)
        .all()
        .map((p) => p.name),
    ).toContain('port-alder-9');
  });

  it('name the file and the field where a file of the user is wrong, and still have the others', () => {
    const dir = folderWith({
      'bad.json': '{"name":"x","protocol":"line","baud":1}',
      'ok.json': '{"name":"y","protocol":"line"}',
    });
    const profiles = loadProfiles(dir);
    expect(profiles.get('y').name).toBe('y');
    expect(profiles.wrong).toMatchObject([{ code: 'PROFILE_INVALID' }]);
    expect(() => profiles.get('x')).toThrow(/bad\.json.*"baud"/);
  });

  it('refuse a file that takes the name of another profile', () => {
    const dir = folderWith({ 'mine.json': '{"name":"tlp-generic","protocol":"line","driftPpm":5}' });
    const profiles = loadProfiles(dir);
    expect(profiles.get('tlp-generic').driftPpm).toBe(100);
    expect(profiles.wrong[0]?.message).toMatch(/mine\.json.*taken/);
  });

  it('say which names there are where one is unknown', () => {
    expect(() => loadProfiles(tempFolder()).get('nope')).toThrow(/no meter profile "nope"/);
  });
});
