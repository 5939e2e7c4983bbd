/** The options that choose among readings, alike for the list and the export. */
import { type Command, Option } from 'commander';

export interface FilterOptions {
  readonly meter?: string;
  readonly patient?: string;
  readonly since?: string;
  readonly until?: string;
  readonly kind?: 'patient' | 'control' | 'error';
}

/** Adds the filter options to a command. */
export function withFilterOptions(command: Command): Command {
  return command
    .option('--meter <ID>', 'only readings of the meter with this serial number')
    .option('--patient <ID>', 'only readings of this patient identifier')
    .option('--since <TIME>', 'only tests made at this time or later: 2026-03-01, 2026-03-01T14:30, or with a zone')
    .option('--until <TIME>', 'only tests made before this time; a day without an hour counts whole')
    .addOption(new Option('--kind <KIND>', 'only tests of this kind').choices(['patient', 'control', 'error']));
}
