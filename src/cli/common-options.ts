/** The options that every command takes, and what they mean. */
import { homedir } from 'node:os';
import type { Command } from 'commander';
import { dataFolder } from './data-folder.ts';

export interface CommonOptions {
  readonly data?: string;
  readonly json?: boolean;
  readonly quiet?: boolean;
}

/** Adds --data, --json and --quiet to a command. */
export function withCommonOptions(command: Command): Command {
  return command
    .option('--data <DIR>', 'the folder that holds the store (default: TALLYDOCK_DATA, else your own data folder)')
    .option('--json', 'print JSON for another program instead of text for people')
    .option('--quiet', 'say nothing beside the result and errors')
    .helpOption('-h, --help', 'print this help and leave');
}

/** The data folder of a call: the option, else TALLYDOCK_DATA, else the platform's. */
export const dataFolderOf = (options: CommonOptions): string =>
  dataFolder(options.data, process.env, process.platform, homedir());
