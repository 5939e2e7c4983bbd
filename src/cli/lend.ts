/** `tallydock lend`: lends a meter to a person, or lists who has which. */
import { Command } from 'commander';
import { withRecordOptions } from './record-options.ts';

const HELP = `
Readings made while a meter is lent are that person's. A meter may be lent before it was ever read; its number is the
serial number that it says when it is docked.

Examples:
  tallydock lend PA-H017 ALDER-017
  tallydock lend PA-H017 ALDER-017 --from 2026-02-01 --until "2026-03-01 09:30"
  tallydock lend --list`;

/** The command. */
export function lendCommand(): Command {
  const command = new Command('lend')
    .description('Lends a meter to a person: what it measures meanwhile is theirs.')
    .argument('[METER]', 'the meter’s serial number')
    .argument('[PATIENT]', 'the person’s id')
    .option('--from <TIME>', 'from when on (default: now)')
    .option('--until <TIME>', 'until when (default: until it is taken back)')
    .option('--model <MODEL>', 'the meter’s model, where two models share a serial number')
    .option('--list', 'list the lends instead')
    .option('--undo <NUMBER>', 'take the lend of this number back, as if it had never been');
  return withRecordOptions(command)
    .addHelpText('after', HELP)
    .action(async (meter, patient, options) => (await import('./lend-work.ts')).lend(meter, patient, options));
}
