/** What all forms of `tallydock report` take. */
import type { Command } from 'commander';
import { type CommonOptions, withCommonOptions } from './common-options.ts';

/** The options of one call. */
export interface ReportOptions extends CommonOptions {
  /** The file to write. Absent: stdout. */
  readonly out?: string;
}

/** Adds them. */
export const withReportOptions = (command: Command): Command =>
  withCommonOptions(command.option('--out <FILE>', 'the file to write; without it, the page goes to stdout'));
