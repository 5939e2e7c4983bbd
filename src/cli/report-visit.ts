/** `tallydock report visit`: the sheet of a meter's visit. */
import { Command, Option } from 'commander';
import { withReportOptions } from './report-options.ts';

const HELP = `
Examples:
  tallydock report visit PA00042 --out visit.html`;

/** The command. */
export function reportVisitCommand(): Command {
  const command = new Command('visit')
    .description('One sheet for the visit of a meter: what was read, what to key in, what to ask, what waits.')
    .argument('<METER>', 'its serial number')
    .option('--model <MODEL>', 'its model, where two models share the serial number')
    .addOption(new Option('--lang <LANG>', 'language of the sheet').choices(['en', 'de']).default('en'));
  return withReportOptions(command)
    .addHelpText('after', HELP)
    .action(async (meter, options) => (await import('./report-visit-work.ts')).reportVisit(meter, options));
}
