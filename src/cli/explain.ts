/** `tallydock explain READING`: why a reading has its time, and where it came from, byte for byte. */
import { Command } from 'commander';
import { type CommonOptions, withCommonOptions } from './common-options.ts';

const EXAMPLES = `
Example:
  tallydock explain D17-3             the ids are in the first column of "tallydock readings"`;

/** The command. */
export function explainCommand(): Command {
  const command = new Command('explain').description(
    'Says why a reading has its time and where it came from, byte for byte.',
  );
  return withCommonOptions(command.argument('<READING>', 'the id of a reading, such as D17-3'))
    .addHelpText('after', EXAMPLES)
    .action(async (id: string, options: CommonOptions) => (await import('./explain-work.ts')).explain(id, options));
}
