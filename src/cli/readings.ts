/** `tallydock readings`: the readings with their true times, as a table for people or NDJSON. */
import { Command } from 'commander';
import { type CommonOptions, withCommonOptions } from './common-options.ts';
import { type FilterOptions, withFilterOptions } from './filter-options.ts';

const EXAMPLES = `
Examples:
  tallydock readings --since 2026-03-01            everything tested since the first of March
  tallydock readings --meter PA00042 --kind control   the control tests of one meter
  tallydock readings --patient ALDER-017           one person's course

"surely within" is how far the true moment can lie from the time shown. "tallydock explain READING" says why.`;

/** The command. */
export function readingsCommand(): Command {
  const command = new Command('readings').description(
    'Lists the readings, each with its best time and how sure it is.',
  );
  return withCommonOptions(withFilterOptions(command))
    .addHelpText('after', EXAMPLES)
    .action(async (options: CommonOptions & FilterOptions) =>
      (await import('./readings-work.ts')).listReadings(options),
    );
}
