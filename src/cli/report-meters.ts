/** `tallydock report meters`: meters and strips on paper. */
import { Command } from 'commander';
import { withReportOptions } from './report-options.ts';

const HELP = `
Examples:
  tallydock report meters --out meters.html`;

/** The command. */
export function reportMetersCommand(): Command {
  const command = new Command('meters').description(
    'Meters and strips: when to read them, batteries, clocks, failed tests, strip lots and shifts between them.',
  );
  return withReportOptions(command)
    .addHelpText('after', HELP)
    .action(async (options) => (await import('./report-meters-work.ts')).reportMeters(options));
}
