/** `tallydock restore`: a backup back into a data folder that has no store. */
import { Command } from 'commander';
import { withCommonOptions } from './common-options.ts';
import type { RestoreCall } from './restore-work.ts';

const EXAMPLES = `
Examples:
  tallydock restore before-update.db --data restored    into a new folder, to look at it
  tallydock restore /media/stick/tallydock-2026-03-02T10-15-00Z.sealed

The backup is verified before and after. A store that is already there is never overwritten.`;

/** The command. */
export function restoreCommand(): Command {
  const command = new Command('restore')
    .description('Puts a backup into a data folder that has no store yet, verified before and after.')
    .argument('<FILE>', 'the backup')
    .option('--passphrase-file <FILE>', 'take the passphrase of a sealed backup from the first line of this file');
  return withCommonOptions(command)
    .addHelpText('after', EXAMPLES)
    .action(async (file: string, options: RestoreCall) => (await import('./restore-work.ts')).restore(file, options));
}
