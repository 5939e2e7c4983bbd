/** Where the store lives when nobody says otherwise. */
import { describe, expect, it } from 'vitest';
import { dataFolder } from '../../src/cli/data-folder.ts';

describe('the data folder', () => {
  it('is the one that was named, before TALLYDOCK_DATA, before the place of the platform', () => {
    const env = { TALLYDOCK_DATA: '/clinic/dock', XDG_DATA_HOME: '/home/rosa/.data' };
    expect(dataFolder('/named', env, 'linux', '/home/rosa')).toBe('/named');
    expect(dataFolder(undefined, env, 'linux', '/home/rosa')).toBe('/clinic/dock');
    expect(dataFolder('', { ...env, TALLYDOCK_DATA: '' }, 'linux', '/home/rosa')).toBe('/home/rosa/.data/tallydock');
  });

  it.each([
    ['linux', {}, '/home/rosa', '/home/rosa/.local/share/tallydock'],
    ['linux', { XDG_DATA_HOME: 'relative' }, '/home/rosa', '/home/rosa/.local/share/tallydock'],
    ['darwin', {}, '/Users/rosa', '/Users/rosa/Library/Application Support/tallydock'],
    [
      'win32',
      { LOCALAPPDATA: 'C:\\Users\\rosa\\AppData\\Local' },
      'C:\\Users\\rosa',
      'C:\\Users\\rosa\\AppData\\Local\\tallydock',
    ],
    ['win32', {}, 'C:\\Users\\rosa', 'C:\\Users\\rosa\\AppData\\Local\\tallydock'],
  ] as const)('on %s with %j is where programs keep their own data', (platform, env, home, folder) => {
    expect(dataFolder(undefined, env, platform, home)).toBe(folder);
  });
});
