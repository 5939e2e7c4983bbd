/** `tallydock check`: looks over everything that the results rest on. */
import { Command } from 'commander';
import { type CommonOptions, withCommonOptions } from './common-options.ts';

const EXAMPLES = `
Examples:
  tallydock check              one line for each thing that was looked at, with what to do
  tallydock check --quiet      only what somebody must do
  tallydock check --json       one JSON document, for a monitor

Leaves with 0 where nothing must be done, with 1 where something must. "not known" is neither.`;

/** The command. */
export function checkCommand(): Command {
  const command = new Command('check').description(
    'Looks over store, audit chain, disk, files, config, profiles, ports, backups and the clock of this PC.',
  );
  return withCommonOptions(command)
    .addHelpText('after', EXAMPLES)
    .action(async (options: CommonOptions) => (await import('./check-work.ts')).check(options));
}
