/** `tallydock report patient`: one person's course on paper. */
import { Command } from 'commander';
import { withReportOptions } from './report-options.ts';

const HELP = `
Examples:
  tallydock report patient ALDER-017 --out alder-017.html
  tallydock report patient ALDER-017 --since 2026-01-01 --out half-year.html`;

/** The command. */
export function reportPatientCommand(): Command {
  const command = new Command('patient')
    .description('The course of a person: picture, values, time in range, what is due and what waits.')
    .argument('<PATIENT>', 'the id of the person')
    .option('--since <TIME>', 'only tests made at or after this local date or time')
    .option('--until <TIME>', 'only tests made before the end of this local date, or before this time');
  return withReportOptions(command)
    .addHelpText('after', HELP)
    .action(async (patient, options) => (await import('./report-patient-work.ts')).reportPatient(patient, options));
}
