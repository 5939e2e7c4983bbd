/** The work of `tallydock backup`. */
import { Fault } from '../core/fault.ts';
import { instant } from '../core/instant.ts';
import { type BackupMade, makeBackup, makeDatedBackup } from '../store/backup.ts';
import { accountName } from './account-name.ts';
import { type CommonOptions, dataFolderOf } from './common-options.ts';
import { print, printJson } from './output.ts';
import { passphraseOf } from './passphrase.ts';
import { printable } from './table.ts';

/** The options of one call. */
export type BackupCall = CommonOptions & {
  readonly keep?: number;
  readonly encrypt?: boolean;
  readonly passphraseFile?: string;
};

/** Makes a backup. Throws what `makeBackup` throws. */
export async function backup(file: string, options: BackupCall): Promise<void> {
  if (options.passphraseFile !== undefined && !options.encrypt)
    throw new Fault('CALL_WRONG', '--passphrase-file: the backup is not to be encrypted', 'Add --encrypt');
  const passphrase = options.encrypt ? await passphraseOf(options.passphraseFile, true) : undefined;
  const order = {
    dir: dataFolderOf(options),
    now: instant(Date.now()),
    actor: `${accountName()}: backup`,
    ...(passphrase === undefined ? {} : { passphrase }),
  };
  const made =
    options.keep === undefined ? await makeBackup(order, file) : await makeDatedBackup(order, file, options.keep);
  if (options.json) await printJson(backupJson(made));
  else await print(backupText(made));
}

/** A backup as JSON. */
const backupJson = ({ file, bytes, sealed, tally, removed }: BackupMade) => ({
  file,
  bytes,
  encrypted: sealed,
  readings: tally.rows['reading'] ?? 0,
  conversations: tally.rows['capture'] ?? 0,
  removed,
});

function backupText({ file, bytes, sealed, tally, removed }: BackupMade): string {
  const size = bytes < 1e6 ? `${Math.ceil(bytes / 1000)} kB` : `${(bytes / 1e6).toFixed(1)} MB`;
  const what = `${tally.rows['reading'] ?? 0} readings from ${tally.rows['capture'] ?? 0} conversations`;
  const lines = [`Wrote and verified ${file} (${what}, ${size}${sealed ? ', encrypted' : ''}).`];
  if (removed.length > 0)
    lines.push(`Removed ${removed.length === 1 ? 'an older one' : `${removed.length} older ones`}.`);
  return `${lines.map(printable).join('\n')}\n`;
}
