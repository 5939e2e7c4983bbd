/** The work of `tallydock restore`. */
import { instant } from '../core/instant.ts';
import { restoreBackup } from '../store/restore-backup.ts';
import { accountName } from './account-name.ts';
import { type CommonOptions, dataFolderOf } from './common-options.ts';
import { print, printJson } from './output.ts';
import { passphraseOf } from './passphrase.ts';
import { printable } from './table.ts';

/** The options of one call. */
export type RestoreCall = CommonOptions & { readonly passphraseFile?: string };

/** Restores. Throws what `restoreBackup` throws. */
export async function restore(file: string, options: RestoreCall): Promise<void> {
  const dir = dataFolderOf(options);
  const { rows } = await restoreBackup({
    file,
    dir,
    now: instant(Date.now()),
    actor: `${accountName()}: restore`,
    passphrase: () => passphraseOf(options.passphraseFile, false),
  });
  const readings = rows['reading'] ?? 0;
  const conversations = rows['capture'] ?? 0;
  if (options.json) await printJson({ folder: dir, readings, conversations });
  else
    await print(
      `${printable(`Restored and verified: ${readings} readings from ${conversations} conversations in ${dir}.`)}\n`,
    );
}
