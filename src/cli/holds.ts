/** `tallydock holds`: the readings that wait for a person, each with what is doubtful. */
import { Command } from 'commander';
import { withCommonOptions } from './common-options.ts';

const HELP = `
What to do: "assign" says whose a reading is, "release" lets it go on, "void" strikes it out. Each can be taken back
with "undo".

Examples:
  tallydock holds
  tallydock holds --patient ALDER-017
  tallydock holds --reason person-unconfirmed`;

/** The command. */
export function holdsCommand(): Command {
  const command = new Command('holds')
    .description('Lists the readings that wait for a person, the oldest first, each with what is doubtful.')
    .option('--patient <PATIENT>', 'only those of this person, known or proposed')
    .option('--meter <METER>', 'only those of this meter')
    .option('--reason <WORD>', 'only those that wait for this reason');
  return withCommonOptions(command)
    .addHelpText('after', HELP)
    .action(async (options) => (await import('./holds-work.ts')).listHolds(options));
}
