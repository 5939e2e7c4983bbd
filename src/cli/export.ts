/** `tallydock export`: its forms are commands of their own. */
import { Command } from 'commander';
import { exportCapturesCommand } from './export-captures.ts';
import { exportCsvCommand } from './export-csv.ts';
import { exportResearchCommand } from './export-research.ts';

/** The command with its forms. */
export const exportCommand = (): Command =>
  new Command('export')
    .description('Writes what the store holds for other programs.')
    .helpOption('-h, --help', 'print this help and leave')
    .helpCommand(false)
    .addCommand(exportCsvCommand())
    .addCommand(exportCapturesCommand())
    .addCommand(exportResearchCommand());
