/** `tallydock report`: its forms are commands of their own. */
import { Command } from 'commander';
import { reportComparisonCommand } from './report-comparison.ts';
import { reportControlsCommand } from './report-controls.ts';
import { reportMetersCommand } from './report-meters.ts';
import { reportMonthCommand } from './report-month.ts';
import { reportPatientCommand } from './report-patient.ts';
import { reportVisitCommand } from './report-visit.ts';

/** The command with its forms. */
export const reportCommand = (): Command =>
  new Command('report')
    .description('Writes one page to read or print: HTML that needs nothing else.')
    .helpOption('-h, --help', 'print this help and leave')
    .helpCommand(false)
    .addCommand(reportPatientCommand())
    .addCommand(reportVisitCommand())
    .addCommand(reportMonthCommand())
    .addCommand(reportMetersCommand())
    .addCommand(reportControlsCommand())
    .addCommand(reportComparisonCommand());
