/**
 * Where the control channel of a data folder listens: a socket in the folder, or where that path would be too long for
 * a socket, in the account's runtime folder; on Windows a named pipe. Clients read the address from the lock file.
 */
import { createHash, randomBytes } from 'node:crypto';
import { chmodSync, lstatSync, mkdirSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join, resolve } from 'node:path';
import { Fault } from '../../core/fault.ts';

/** Name of the socket inside the data folder. */
const SOCKET_FILE = 'control.sock';

/** The longest path of a socket in bytes, without its closing zero: sun_path has 108 on Linux (unix(7)), 104 on BSD and macOS (unix(4)). */
const MAX_PATH_BYTES = 103;

/** Chooses the address for a daemon that starts. Makes the runtime folder where it is needed. Throws STORE_DENIED. */
export function controlAddress(
  dataDir: string,
  env: Readonly<Record<string, string | undefined>> = process.env,
  platform: NodeJS.Platform = process.platform,
): string {
  const folder = resolve(dataDir);
  const short = createHash('sha256').update(folder).digest('hex').slice(0, 16);
  // Nobody can hold a name ready that he cannot guess. Windows lets only the owner and administrators write to it.
  if (platform === 'win32') return `\\\\.\\pipe\\tallydock-${short}-${randomBytes(8).toString('hex')}`;
  const inFolder = join(folder, SOCKET_FILE);
  if (fits(inFolder)) return inFolder;
  const runtime = ownFolder(join(env['RUNTIME_DIRECTORY'] || env['XDG_RUNTIME_DIR'] || tmpdir(), accountFolder()));
  const elsewhere = join(runtime, `${short}.sock`);
  if (fits(elsewhere)) return elsewhere;
  throw new Fault(
    'STORE_DENIED',
    `The path of ${folder} is too long for a control channel, and so is ${runtime}`,
    'Choose a data folder with a shorter path.',
  );
}

const fits = (path: string): boolean => Buffer.byteLength(path) <= MAX_PATH_BYTES;
const accountFolder = (): string => `tallydock-${process.getuid?.() ?? 0}`;

/** Makes a folder for this account alone; refuses one that somebody else has put there. */
function ownFolder(path: string): string {
  mkdirSync(path, { recursive: true, mode: 0o700 });
  const found = lstatSync(path);
  if (!found.isDirectory() || found.uid !== process.getuid?.())
    throw new Fault('STORE_DENIED', `${path} belongs to somebody else`, 'Ask who looks after this computer.');
  chmodSync(path, 0o700);
  return path;
}
