/** `tallydock outlet`: where readings are forwarded to; its forms are commands of their own. */
import { Command, Option } from 'commander';
import { withCommonOptions } from './common-options.ts';
import { wholeNumber } from './option-parsers.ts';
import type { AddCall } from './outlet-add-work.ts';
import type { ListCall, PrepareCall, ReplayCall } from './outlet-work.ts';
import { withRecordOptions } from './record-options.ts';
import type { RecordOptions } from './with-record.ts';

const work = () => import('./outlet-work.ts');

/** The command with its forms. */
export function outletCommand(): Command {
  const forms = [add(), list(), tryOut(), prepare(), send(), pause(), resume(), replay(), remove()];
  const command = new Command('outlet')
    .description('Where readings are forwarded to: CSV files, FHIR, HL7, a PostgreSQL database.')
    .helpOption('-h, --help', 'print this help and leave')
    .helpCommand(false);
  for (const form of forms) command.addCommand(form);
  return command;
}

function add(): Command {
  const command = new Command('add')
    .description('Adds an outlet. It is fed by the daemon, or by "tallydock outlet send".')
    .argument('<NAME>', 'what you call it')
    .argument('<KIND>', 'csv, postgres, fhir-file, fhir-server, hl7-file or hl7-mllp')
    .option('--set <NAME=VALUE...>', 'its settings; README lists those of each kind')
    .option('--kinds <LIST>', 'only these: patient, control, error, separated by commas')
    .option('--meters <LIST>', 'only meters with these serial numbers, separated by commas')
    .option('--only-settled', 'only what a whole download has told')
    .option('--de-identified', 'without names, ids, serial numbers, dates and operators; needs a key')
    .addOption(
      new Option(
        '--key-file <FILE>',
        'the key of the pseudonyms: the first line of this file, which is made if need be',
      )
        .conflicts(['keyEnv'])
        .implies({ deIdentified: true }),
    )
    .addOption(
      new Option('--key-env <NAME>', 'the key of the pseudonyms, in this environment variable').implies({
        deIdentified: true,
      }),
    )
    .option('--from-now', 'only what is new or changes from now on, not what is stored already');
  return withRecordOptions(command)
    .addHelpText(
      'after',
      `
Examples:
  tallydock outlet add table csv --set folder=/srv/port-alder/table
  tallydock outlet add "head office" postgres --set host=db.example database=readings user=alder password-file=/etc/alder.pw
  tallydock outlet add research csv --set folder=research --de-identified --key-file research.key --kinds patient

A password or token is never written here: give the name of a variable or of a file that only you may read.`,
    )
    .action(async (name: string, kind: string, options: AddCall) =>
      (await import('./outlet-add-work.ts')).addOutlet(name, kind, options),
    );
}

function list(): Command {
  const command = new Command('list')
    .description('Lists the outlets: what each does, what waits, and why one cannot be reached.')
    .option('--refused', 'list the readings that receivers refused, with the reasons, instead');
  return withCommonOptions(command)
    .addHelpText(
      'after',
      `
Examples:
  tallydock outlet list
  tallydock outlet list --refused          which readings were refused, and why?`,
    )
    .action(async (options: ListCall) => (await work()).listOutlets(options));
}

function tryOut(): Command {
  return withCommonOptions(
    new Command('try').description('Asks the receiver of an outlet whether it is there; no reading is sent.'),
  )
    .argument('<NAME>', 'the outlet')
    .addHelpText('after', '\nExample:\n  tallydock outlet try "head office"')
    .action(async (name: string, options) => (await work()).tryOutlet(name, options));
}

function prepare(): Command {
  const command = new Command('prepare')
    .description('Makes the tables and views of an outlet in its database; what is there is left as it is.')
    .argument('<NAME>', 'the outlet')
    .option(
      '--partitions <N>',
      'split the large tables by site into so many parts, when they are first made',
      wholeNumber(2, 1024),
    );
  return withCommonOptions(command)
    .addHelpText('after', '\nExample:\n  tallydock outlet prepare "head office" --partitions 16')
    .action(async (name: string, options: PrepareCall) => (await work()).prepareOutlet(name, options));
}

function send(): Command {
  return withCommonOptions(
    new Command('send').description('Hands over what waits now, once, where no daemon runs that does it.'),
  )
    .argument('[NAME...]', 'these outlets; without a name all that are not paused')
    .addHelpText(
      'after',
      `
Examples:
  tallydock outlet send
  tallydock outlet send table

Leaves with 3 where something could not be handed over; it waits for the next time.`,
    )
    .action(async (names: string[], options) => (await import('./outlet-send-work.ts')).sendNow(names, options));
}

function pause(): Command {
  return onOne('pause', 'Stops feeding an outlet; what comes meanwhile waits.', async (name, options) =>
    (await work()).setPaused(name, true, options),
  );
}

function resume(): Command {
  return onOne(
    'resume',
    'Feeds a paused outlet again; one that cannot be reached is tried at once.',
    async (name, options) => (await work()).setPaused(name, false, options),
  );
}

function remove(): Command {
  return onOne('remove', 'Removes an outlet; what it was sent stays with its receiver.', async (name, options) =>
    (await work()).removeOutlet(name, options),
  );
}

/** A form that does one thing to one outlet. */
function onOne(
  form: string,
  description: string,
  act: (name: string, options: RecordOptions) => Promise<void>,
): Command {
  return withRecordOptions(new Command(form).description(description).argument('<NAME>', 'the outlet'))
    .addHelpText('after', `\nExample:\n  tallydock outlet ${form} table`)
    .action(act);
}

function replay(): Command {
  const command = new Command('replay')
    .description('Hands readings over again, each as it stands now. What the receiver has already, it knows.')
    .argument('<NAME>', 'the outlet')
    .addOption(
      new Option('--since <TIME>', 'everything that came about or changed at or after this').conflicts([
        'all',
        'refused',
      ]),
    )
    .addOption(new Option('--all', 'everything').conflicts(['refused']))
    .option('--refused', 'what the receiver refused');
  return withRecordOptions(command)
    .addHelpText(
      'after',
      `
Examples:
  tallydock outlet replay table --since 2026-03-01
  tallydock outlet replay "head office" --refused     after the reason was put right`,
    )
    .action(async (name: string, options: ReplayCall) => (await work()).replayOutlet(name, options));
}
