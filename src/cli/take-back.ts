/** `tallydock take-back`: a lent meter has come back. */
import { Command } from 'commander';
import { withRecordOptions } from './record-options.ts';

/** The command. */
export function takeBackCommand(): Command {
  const command = new Command('take-back')
    .description('Notes that a lent meter has come back: from then on its readings are not that person’s.')
    .argument('<METER>', 'the meter’s serial number')
    .option('--at <TIME>', 'when it came back (default: now)')
    .option('--model <MODEL>', 'the meter’s model, where two models share a serial number');
  return withRecordOptions(command)
    .addHelpText('after', '\nExample:\n  tallydock take-back PA-H017')
    .action(async (meter, options) => (await import('./lend-work.ts')).takeBackMeter(meter, options));
}
