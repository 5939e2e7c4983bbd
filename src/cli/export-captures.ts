/** `tallydock export captures`: the recorded conversations as capture files, on wish without the names of people. */
import { Command } from 'commander';
import { withCommonOptions } from './common-options.ts';
import type { ExportCapturesCall } from './export-captures-work.ts';

const EXAMPLES = `
Examples:
  tallydock export captures --out march --since 2026-03-01
  tallydock export captures --out for-the-maker --meter PA00042 --masked

--masked puts pseudonyms in the place of patient ids and operators; the same person keeps the same one throughout the
folder. Serial numbers, times and results stay: treat the files as what they are.`;

/** The command. */
export function exportCapturesCommand(): Command {
  const command = new Command('captures')
    .description('Writes the recorded conversations as capture files, one for each, into an empty folder.')
    .requiredOption('--out <FOLDER>', 'the folder, new or empty')
    .option('--meter <ID>', 'only conversations with the meter of this serial number')
    .option('--since <TIME>', 'only conversations that began at this time or later: 2026-03-01, or with hour and zone')
    .option('--until <TIME>', 'only conversations that began before this time; a day without an hour counts whole')
    .option('--masked', 'put pseudonyms in the place of patient ids and operators');
  return withCommonOptions(command)
    .addHelpText('after', EXAMPLES)
    .action(async (options: ExportCapturesCall) => (await import('./export-captures-work.ts')).exportCaptures(options));
}
