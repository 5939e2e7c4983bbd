/** `tallydock ports`: the serial ports of this computer and the profile that each would use. Opens none of them. */
import { Command } from 'commander';
import { type CommonOptions, withCommonOptions } from './common-options.ts';

const EXAMPLES = `
Examples:
  tallydock ports                     then, with the port that is new: tallydock collect PORT

A port whose USB ids stand in a meter profile is recognised. Any other is read only if you name it.`;

/** The command. */
export function portsCommand(): Command {
  const command = new Command('ports').description(
    'Lists the serial ports of this computer and the profile that each would use.',
  );
  return withCommonOptions(command)
    .addHelpText('after', EXAMPLES)
    .action(async (options: CommonOptions) => (await import('./ports-work.ts')).showPorts(options));
}
