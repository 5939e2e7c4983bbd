/** `tallydock meters`: the meters that were ever read. */
import { Command } from 'commander';
import type { MetersOptions } from './clock-options.ts';
import { withCommonOptions } from './common-options.ts';

const EXAMPLES = `
Examples:
  tallydock meters                    when was each meter last read, and was its clock right?
  tallydock meters --clock            how does each clock drift, and how often was power lost?
  tallydock meters --clock --meter PA-0007 --svg clock.svg    a picture of one meter's clock
  tallydock meters --json

The clock is as it was at the meter's last download, before it was set, if it was set.`;

/** The command. */
export function metersCommand(): Command {
  const command = new Command('meters').description(
    'Lists the meters: last seen, how far off the clock was, how many readings.',
  );
  return withCommonOptions(command)
    .option('--clock', "tell more of each meter's clock: how it drifts, when it lost power, when it was changed")
    .option('--meter <ID>', 'only the meter with this serial number')
    .option('--svg <FILE>', "with --clock: draw the meter's clock as a picture; needs --meter where there are several")
    .addHelpText('after', EXAMPLES)
    .action(async (options: MetersOptions) => (await import('./meters-work.ts')).listMeters(options));
}
