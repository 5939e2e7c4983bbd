/** `tallydock report controls`: control tests on paper. */
import { Command } from 'commander';
import { withReportOptions } from './report-options.ts';

const HELP = `
Examples:
  tallydock report controls --out controls.html`;

/** The command. */
export function reportControlsCommand(): Command {
  const command = new Command('controls').description(
    'Control tests: a Levey-Jennings picture for each level, verdicts in sentences, what is due, what was out of control.',
  );
  return withReportOptions(command)
    .addHelpText('after', HELP)
    .action(async (options) => (await import('./report-controls-work.ts')).reportControls(options));
}
