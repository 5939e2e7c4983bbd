/** `tallydock meters`: the meters that were ever read. */
import { Command } from 'commander';
import { type CommonOptions, withCommonOptions } from './common-options.ts';

const EXAMPLES = `
Examples:
  tallydock meters                    when was each meter last read, and was its clock right?
  tallydock meters --json

The clock is as it was at the meter's last download, before it was set, if it was set.`;

/** The command. */
export function metersCommand(): Command {
  const command = new Command('meters').description(
    'Lists the meters: last seen, how far off the clock was, how many readings.',
  );
  return withCommonOptions(command)
    .addHelpText('after', EXAMPLES)
    .action(async (options: CommonOptions) => (await import('./meters-work.ts')).listMeters(options));
}
