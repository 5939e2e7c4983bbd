/** The options of commands by which a person enters or decides something. */
import type { Command } from 'commander';
import { withCommonOptions } from './common-options.ts';

/** Adds --by and the common options. */
export const withRecordOptions = (command: Command): Command =>
  withCommonOptions(command.option('--by <NAME>', 'who does this (default: the account you are signed in with)'));

/** Adds --dry-run, --by and the common options. */
export const withImportOptions = (command: Command): Command =>
  withRecordOptions(command.option('--dry-run', 'only say what would become of every row'));
