/** `tallydock incidents`: what happened to the clocks and memories of the meters. */
import { Command } from 'commander';
import { type CommonOptions, withCommonOptions } from './common-options.ts';

const EXAMPLES = `
Examples:
  tallydock incidents                 power losses, clocks changed, memories that wrapped
  tallydock incidents --json

After a power loss the meter has lost its date and time, and with them the target range: enter them again.`;

/** The command. */
export function incidentsCommand(): Command {
  const command = new Command('incidents').description('Lists what happened to the clocks and memories of the meters.');
  return withCommonOptions(command)
    .addHelpText('after', EXAMPLES)
    .action(async (options: CommonOptions) => (await import('./incidents-work.ts')).listIncidents(options));
}
