/** `tallydock backup`: a verified copy of the store while others write it. */
import { Command } from 'commander';
import type { BackupCall } from './backup-work.ts';
import { withCommonOptions } from './common-options.ts';
import { wholeNumber } from './option-parsers.ts';

const EXAMPLES = `
Examples:
  tallydock backup before-update.db                     one file, verified
  tallydock backup --keep 14 /media/stick               a dated file in this folder; the 14 newest stay
  tallydock backup --encrypt --keep 14 /media/stick     sealed: nobody opens it without the passphrase

The passphrase comes from TALLYDOCK_PASSPHRASE, from --passphrase-file, or is asked for. Without it nobody can ever
open the backup: keep it in a safe place. config.toml and your own meter profiles are not part of a backup.`;

/** The command. */
export function backupCommand(): Command {
  const command = new Command('backup')
    .description('Writes a consistent, verified copy of the store, also while a download runs.')
    .argument('<FILE>', 'the new file; with --keep the folder')
    .option('--keep <N>', 'write a dated file into the folder and keep the N newest there', wholeNumber(1, 10_000))
    .option('--encrypt', 'seal the backup under a passphrase')
    .option('--passphrase-file <FILE>', 'take the passphrase from the first line of this file');
  return withCommonOptions(command)
    .addHelpText('after', EXAMPLES)
    .action(async (file: string, options: BackupCall) => (await import('./backup-work.ts')).backup(file, options));
}
