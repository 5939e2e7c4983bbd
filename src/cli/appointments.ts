/** `tallydock appointments`: who is expected when; its forms are commands of their own. */
import { Command } from 'commander';
import { withCommonOptions } from './common-options.ts';
import { withImportOptions } from './record-options.ts';

const work = () => import('./registers-work.ts');

const IMPORT_HELP = `
The table is CSV with two columns: time (local) and patient_id. An appointment proposes whose a reading of a shared
meter is; a person confirms it. Either all rows are taken over or none.

Examples:
  tallydock appointments import today.csv --dry-run
  tallydock appointments import today.csv`;

/** The command with its forms. */
export function appointmentsCommand(): Command {
  const list = withCommonOptions(new Command('list').description('Lists the appointments of a day.'))
    .option('--day <DATE>', 'the day (default: today)')
    .addHelpText('after', '\nExample:\n  tallydock appointments list --day 2026-03-02')
    .action(async (options) => (await work()).listAppointments(options));
  const importing = withImportOptions(new Command('import').description('Takes appointments from a table.'))
    .argument('<FILE>', 'the table')
    .addHelpText('after', IMPORT_HELP)
    .action(async (file: string, options) => (await work()).importDay(file, options));
  return new Command('appointments')
    .description('Who is expected when: proposes whose a reading of a shared meter is.')
    .helpOption('-h, --help', 'print this help and leave')
    .helpCommand(false)
    .addCommand(list)
    .addCommand(importing);
}
