/** `tallydock lab`: values of the laboratory, to compare meters with; its forms are commands of their own. */
import { Command } from 'commander';
import { withCommonOptions } from './common-options.ts';
import { withImportOptions, withRecordOptions } from './record-options.ts';

const work = () => import('./registers-work.ts');

const IMPORT_HELP = `
The table is CSV with these columns, in any order: time, patient_id, value, and if you like analyte (else INR) and
laboratory. Times are local. Either all rows are taken over or none.

Examples:
  tallydock lab import march.csv --dry-run
  tallydock lab import march.csv`;

/** The command with its forms. */
export function labCommand(): Command {
  const list = withCommonOptions(new Command('list').description('Lists the values of the laboratory.'))
    .option('--patient <PATIENT>', 'only those of this person')
    .addHelpText('after', '\nExample:\n  tallydock lab list --patient ALDER-017')
    .action(async (options) => (await work()).listLab(options));
  const add = withRecordOptions(
    new Command('add')
      .description('Enters one value of the laboratory.')
      .argument('<PATIENT>', 'the person’s id')
      .argument('<VALUE>', 'the value, such as 2.6')
      .requiredOption('--at <TIME>', 'when the sample was taken')
      .option('--analyte <NAME>', 'what was measured', 'INR')
      .option('--laboratory <NAME>', 'which laboratory', ''),
  )
    .addHelpText('after', '\nExample:\n  tallydock lab add ALDER-017 2.6 --at "2026-03-02 09:40"')
    .action(async (id: string, value: string, options) => (await work()).addLab(id, value, options));
  const importing = withImportOptions(new Command('import').description('Takes values of the laboratory from a table.'))
    .argument('<FILE>', 'the table')
    .addHelpText('after', IMPORT_HELP)
    .action(async (file: string, options) => (await work()).importLab(file, options));
  return new Command('lab')
    .description('Values of the laboratory, to compare meters with.')
    .helpOption('-h, --help', 'print this help and leave')
    .helpCommand(false)
    .addCommand(list)
    .addCommand(add)
    .addCommand(importing);
}
