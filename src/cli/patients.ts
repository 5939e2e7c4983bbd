/** `tallydock patients`: the people whose readings are looked after; its forms are commands of their own. */
import { Command } from 'commander';
import { withCommonOptions } from './common-options.ts';
import type { FactOptions } from './patients-work.ts';
import { withImportOptions, withRecordOptions } from './record-options.ts';

const work = () => import('./patients-work.ts');

/** What may be told of a person. */
const withFacts = (command: Command): Command =>
  command
    .option('--name <TEXT>', 'a name, if names are kept here')
    .option('--birth-year <YEAR>', 'year of birth')
    .option('--reason <TEXT>', 'reason for treatment, in your words')
    .option('--notes <TEXT>', 'anything else')
    .option('--every <DAYS>', 'a test is planned every so many days')
    .option('--since <DATE>', 'when treatment began')
    .option('--left <DATE>', 'no longer looked after since');

const IMPORT_HELP = `
The table is CSV with these columns, in any order; only patient_id must be there:
  patient_id, name, birth_year, reason, notes, plan_days, since, target_low, target_high, target_from, meter, meter_from
A person who is known is changed where a cell says something else; an empty cell changes nothing. "meter" lends that
meter to the person, from meter_from or from now. Either all rows are taken over or none.

Examples:
  tallydock patients import people.csv --dry-run
  tallydock patients import people.csv`;

/** The command with its forms. */
export function patientsCommand(): Command {
  const list = withCommonOptions(
    new Command('list').description('Lists the people, each with target and last reading.'),
  )
    .addHelpText('after', '\nExample:\n  tallydock patients list')
    .action(async (options) => (await work()).listPatients(options));
  const show = withCommonOptions(new Command('show').description('Shows all that is known of a person.'))
    .argument('<PATIENT>', 'the person’s id')
    .addHelpText('after', '\nExample:\n  tallydock patients show ALDER-017')
    .action(async (id: string, options) => (await work()).showPatient(id, options));
  const add = withRecordOptions(
    withFacts(new Command('add').description('Adds a person.')).option(
      '--target <LOW-HIGH>',
      'the target range, such as 2.0-3.0',
    ),
  )
    .argument('<PATIENT>', 'the clinic’s own id of the person')
    .addHelpText(
      'after',
      '\nExample:\n  tallydock patients add ALDER-017 --name "R. Penrose" --target 2.0-3.0 --every 7',
    )
    .action(async (id: string, options: FactOptions) => (await work()).addOne(id, options));
  const change = withRecordOptions(
    withFacts(new Command('change').description('Changes what is known of a person; what is not named stays.')).option(
      '--id <NEW>',
      'another id for the same person',
    ),
  )
    .argument('<PATIENT>', 'the person’s id')
    .addHelpText('after', '\nExample:\n  tallydock patients change ALDER-017 --every 14')
    .action(async (id: string, options: FactOptions) => (await work()).changeOne(id, options));
  const target = withRecordOptions(
    new Command('target')
      .description('Sets the target range of a person; the one before stays in force until then.')
      .option('--from <DATE>', 'from when on (default: now; for a first target: from the beginning)')
      .option('--undo <NUMBER>', 'take the target of this number back instead'),
  )
    .argument('<PATIENT>', 'the person’s id')
    .argument('[LOW-HIGH]', 'the range, such as 2.5-3.5; both limits belong to it')
    .addHelpText('after', '\nExample:\n  tallydock patients target ALDER-017 2.5-3.5 --from 2026-03-01')
    .action(async (id: string, range: string | undefined, options) => (await work()).setOneTarget(id, range, options));
  const importing = withImportOptions(new Command('import').description('Adds and changes people from a table.'))
    .argument('<FILE>', 'the table')
    .addHelpText('after', IMPORT_HELP)
    .action(async (file: string, options) => (await work()).importPeople(file, options));
  return new Command('patients')
    .description('The people whose readings are looked after.')
    .helpOption('-h, --help', 'print this help and leave')
    .helpCommand(false)
    .addCommand(list)
    .addCommand(show)
    .addCommand(add)
    .addCommand(change)
    .addCommand(target)
    .addCommand(importing);
}
