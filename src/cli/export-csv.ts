/** `tallydock export csv`: readings as CSV to stdout, or to a file that is either complete or not there. */
import { Command } from 'commander';
import { withCommonOptions } from './common-options.ts';
import type { ExportCall } from './export-csv-work.ts';
import { withFilterOptions } from './filter-options.ts';

const EXAMPLES = `
Examples:
  tallydock export csv --out march.csv --since 2026-03-01
  tallydock export csv --patient ALDER-017 > course.csv

One row for each value: a test that gave INR and PT has two rows with the same reading_id.
Times are UTC; taken_at is the best estimate, earliest and latest are its bounds.`;

/** The form that writes a table. */
export function exportCsvCommand(): Command {
  const csv = new Command('csv').description(
    'Writes readings as CSV: one row for each value, oldest first for each meter.',
  );
  return withCommonOptions(withFilterOptions(csv.option('--out <FILE>', 'write to this file instead of the screen')))
    .addHelpText('after', EXAMPLES)
    .action(async (options: ExportCall) => (await import('./export-csv-work.ts')).exportCsv(options));
}
