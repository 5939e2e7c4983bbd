/** `tallydock install-service`: how to have the daemon started with the computer. Prints; changes nothing. */
import { Command, Option } from 'commander';
import { withCommonOptions } from './common-options.ts';
import type { InstallServiceCall } from './install-service-work.ts';

const EXAMPLES = `
Examples:
  tallydock install-service --print                          for this computer, with its paths filled in
  tallydock install-service --print --data /srv/port-alder   with the store of the Port Alder clinic in that folder
  tallydock install-service --print --for windows            the steps for a Windows PC

Nothing is changed: the text says what to put where, and which commands an administrator types.`;

/** The command. */
export function installServiceCommand(): Command {
  const command = new Command('install-service')
    .description('Prints how to have the daemon started with the computer: a systemd unit, or the steps on Windows.')
    .requiredOption('--print', 'print the text; there is no other way: an administrator looks at it and does it')
    .addOption(new Option('--for <SYSTEM>', 'for which system (default: this one)').choices(['linux', 'windows']));
  return withCommonOptions(command)
    .addHelpText('after', EXAMPLES)
    .action(async (options: InstallServiceCall) => (await import('./install-service-work.ts')).printService(options));
}
