/** `tallydock export research`: the tests of everybody without anything that leads to a person. */
import { Command } from 'commander';
import { withCommonOptions } from './common-options.ts';
import type { ResearchCall } from './export-research-work.ts';

const EXAMPLES = `
Examples:
  tallydock export research --out research.csv
  tallydock export research --key-file study.key --out second.csv`;

/** The form that writes the table for research. */
export function exportResearchCommand(): Command {
  const research = new Command('research')
    .description('Writes tests and targets as CSV without names, dates, serial numbers or notes.')
    .option('--out <FILE>', 'write to this file instead of the screen')
    .option('--key-file <FILE>', 'the key of the pseudonyms, so that a later export has the same ones');
  return withCommonOptions(research)
    .addHelpText('after', EXAMPLES)
    .action(async (options: ResearchCall) => (await import('./export-research-work.ts')).exportResearch(options));
}
