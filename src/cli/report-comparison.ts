/** `tallydock report comparison`: meters against the laboratory on paper. */
import { Command } from 'commander';
import { withReportOptions } from './report-options.ts';

const HELP = `
Examples:
  tallydock report comparison --out comparison.html
  tallydock report comparison --since 2026-01-01 --out this-year.html`;

/** The command. */
export function reportComparisonCommand(): Command {
  const command = new Command('comparison')
    .description('Meters compared with laboratory values: pairs, differences, lines, bands, cautions.')
    .option('--since <TIME>', 'only laboratory values of this local date or time and after')
    .option('--until <TIME>', 'only laboratory values before the end of this local date, or before this time');
  return withReportOptions(command)
    .addHelpText('after', HELP)
    .action(async (options) => (await import('./report-comparison-work.ts')).reportComparison(options));
}
