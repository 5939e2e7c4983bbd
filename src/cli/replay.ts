/** `tallydock replay FILE…`: capture files, taken as if they happened at the times written in them. */
import { Command } from 'commander';
import { type CommonOptions, withCommonOptions } from './common-options.ts';

const EXAMPLES = `
Examples:
  tallydock replay monday.capture.jsonl
  tallydock replay captures/*.capture.jsonl

Files may be given late and out of order; a file that was taken in before changes nothing.`;

/** The command. */
export function replayCommand(): Command {
  const command = new Command('replay').description(
    'Takes in capture files as if they happened at the times written in them.',
  );
  return withCommonOptions(command.argument('<FILE...>', 'capture files, in this order'))
    .addHelpText('after', EXAMPLES)
    .action(async (files: string[], options: CommonOptions) =>
      (await import('./replay-work.ts')).replay(files, options),
    );
}
