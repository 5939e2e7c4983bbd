/** `tallydock report month`: a month of the clinic on paper. */
import { Command } from 'commander';
import { withReportOptions } from './report-options.ts';

const HELP = `
Examples:
  tallydock report month --out month.html
  tallydock report month --month 2026-03 --out march.html`;

/** The command. */
export function reportMonthCommand(): Command {
  const command = new Command('month')
    .description('A month of the clinic: critical values, tests, time in range, overdue people, holds, downloads.')
    .option('--month <MONTH>', 'the month, such as 2026-03; without it, the last one that is over');
  return withReportOptions(command)
    .addHelpText('after', HELP)
    .action(async (options) => (await import('./report-month-work.ts')).reportMonth(options));
}
