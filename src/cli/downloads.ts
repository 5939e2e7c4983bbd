/** `tallydock downloads`: every download, oldest first. */
import { Command } from 'commander';
import { type CommonOptions, withCommonOptions } from './common-options.ts';

const EXAMPLES = `
Examples:
  tallydock downloads                 every time a meter was read
  tallydock downloads --json          the same for another program

"may be lost" means: the memory was full and nothing in it was known from before, or run numbers are missing, so tests
may have been overwritten before anybody read them. Read this meter more often.`;

/** The command. */
export function downloadsCommand(): Command {
  const command = new Command('downloads').description(
    'Lists every download: what was new, what was known, how the clock was.',
  );
  return withCommonOptions(command)
    .addHelpText('after', EXAMPLES)
    .action(async (options: CommonOptions) => (await import('./downloads-work.ts')).listDownloads(options));
}
