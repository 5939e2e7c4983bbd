/** The work of `tallydock install-service`: fills the paths of this computer into the text for its kind of system. */
import { posix, win32 } from 'node:path';
import { fileURLToPath } from 'node:url';
import { Fault } from '../core/fault.ts';
import { readConfig } from '../dock/config.ts';
import { type CommonOptions, dataFolderOf } from './common-options.ts';
import { print, printJson } from './output.ts';
import { type ServicePaths, SYSTEM_DATA, systemdText } from './service-systemd.ts';
import { WINDOWS_DATA, windowsText } from './service-windows.ts';

/** The options of one call. */
export interface InstallServiceCall extends CommonOptions {
  readonly print: boolean;
  readonly for?: 'linux' | 'windows';
}

/** Prints the text. Throws CALL_WRONG on a system that has neither, CONFIG_INVALID. */
export async function printService(options: InstallServiceCall): Promise<void> {
  const system = options.for ?? thisSystem();
  // A service is not the person who types this: its data do not belong into that person's folder.
  const isNamed = options.data !== undefined || Boolean(process.env['TALLYDOCK_DATA']);
  const { resolve } = system === 'linux' ? posix : win32;
  const data = isNamed ? resolve(dataFolderOf(options)) : system === 'linux' ? SYSTEM_DATA : WINDOWS_DATA;
  const { backup } = readConfig(data);
  const paths: ServicePaths = {
    node: process.execPath,
    program: fileURLToPath(new URL('main.js', import.meta.url)),
    data,
    ...(backup ? { backups: backup.folder } : {}),
  };
  const text = system === 'linux' ? systemdText(paths) : windowsText(paths);
  if (options.json) await printJson({ system, ...paths, text });
  else await print(text);
}

function thisSystem(): 'linux' | 'windows' {
  if (process.platform === 'linux') return 'linux';
  if (process.platform === 'win32') return 'windows';
  throw new Fault(
    'CALL_WRONG',
    'There is no text for the services of this system',
    'Have its own means start "tallydock serve", or name a system with --for.',
  );
}
