/** `tallydock explain READING`: why a reading has its time, and where it came from, byte for byte. */
import { Command } from 'commander';
import type { ExplainOptions } from './clock-options.ts';
import { withCommonOptions } from './common-options.ts';

const EXAMPLES = `
Examples:
  tallydock explain D17-3             the ids are in the first column of "tallydock readings"
  tallydock explain D17-3 --svg why.svg   with a picture of the meter's clock around that time`;

/** The command. */
export function explainCommand(): Command {
  const command = new Command('explain').description(
    'Says why a reading has its time and where it came from, byte for byte.',
  );
  return withCommonOptions(command.argument('<READING>', 'the id of a reading, such as D17-3'))
    .option('--svg <FILE>', "also draw the meter's clock around that time as a picture")
    .addHelpText('after', EXAMPLES)
    .action(async (id: string, options: ExplainOptions) => (await import('./explain-work.ts')).explain(id, options));
}
