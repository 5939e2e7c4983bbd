/** Where the store lives when nobody says otherwise: the place that each platform has for a program's own data. */
import { posix, win32 } from 'node:path';

/**
 * The option if given, else TALLYDOCK_DATA, else the platform's folder. An empty text counts as not given.
 * XDG_DATA_HOME is used as the XDG Base Directory Specification says: relative paths in it are ignored.
 */
export function dataFolder(
  option: string | undefined,
  env: Readonly<Record<string, string | undefined>>,
  platform: NodeJS.Platform,
  home: string,
): string {
  const given = option || env['TALLYDOCK_DATA'];
  if (given) return given;
  if (platform === 'win32') return win32.join(env['LOCALAPPDATA'] || win32.join(home, 'AppData', 'Local'), 'tallydock');
  if (platform === 'darwin') return posix.join(home, 'Library', 'Application Support', 'tallydock');
  const xdg = env['XDG_DATA_HOME'];
  return posix.join(xdg && posix.isAbsolute(xdg) ? xdg : posix.join(home, '.local', 'share'), 'tallydock');
}
