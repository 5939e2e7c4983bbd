/** `tallydock rebuild`: makes all readings afresh from the stored bytes and reports any difference. */
import { Command } from 'commander';
import { withCommonOptions } from './common-options.ts';
import type { RebuildCall } from './rebuild-work.ts';

const EXAMPLES = `
Examples:
  tallydock rebuild                   is what is stored what the bytes say?
  tallydock rebuild --accept          keep the new result where it differs, for instance after an update`;

/** The command. */
export function rebuildCommand(): Command {
  const command = new Command('rebuild').description(
    'Makes all readings afresh from the stored bytes. The result is identical, or the difference is reported.',
  );
  return withCommonOptions(command.option('--accept', 'keep the new result where it differs from the old one'))
    .addHelpText('after', EXAMPLES)
    .action(async (options: RebuildCall) => (await import('./rebuild-work.ts')).rebuildStore(options));
}
