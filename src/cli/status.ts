/** `tallydock status`: what the running daemon does at each dock, its figures, and whether it is well. */
import { Command, Option } from 'commander';
import { withCommonOptions } from './common-options.ts';
import type { StatusCall } from './status-work.ts';

const EXAMPLES = `
Examples:
  tallydock status                    what every dock does, since when, and what to do about trouble
  tallydock status --watch            one line for every change, until Ctrl+C
  tallydock status --health           one line for a monitor: exit code 0 well, 3 somebody should look, 1 not running
  tallydock status --metrics          the daemon's figures as OpenMetrics text`;

/** The command. */
export function statusCommand(): Command {
  const command = new Command('status')
    .description('Shows what the running daemon does at each dock, since when, and what to do about trouble.')
    .addOption(new Option('--watch', 'go on and tell every change, until Ctrl+C').conflicts(['health', 'metrics']))
    .addOption(
      new Option(
        '--health',
        'say in one line whether the daemon is well: exit code 0 well, 3 look at it, 1 not running',
      ).conflicts(['metrics']),
    )
    .addOption(new Option('--metrics', 'print the figures as OpenMetrics text').conflicts(['json']));
  return withCommonOptions(command)
    .addHelpText('after', EXAMPLES)
    .action(async (options: StatusCall) => (await import('./status-work.ts')).showStatus(options));
}
