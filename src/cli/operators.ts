/** `tallydock operators`: who may sign in at the desk; its forms are commands of their own. */
import { Command, Option } from 'commander';
import { withCommonOptions } from './common-options.ts';
import { withRecordOptions } from './record-options.ts';

const work = () => import('./operators-work.ts');
const ROLES = ['look', 'work', 'manage'] as const;
const withPassphrase = (command: Command): Command =>
  command.option(
    '--passphrase-file <FILE>',
    'the file whose first line is the passphrase; asked for on the terminal if absent',
  );

/** The command with its forms. */
export function operatorsCommand(): Command {
  const list = withCommonOptions(new Command('list').description('Lists the operators.'))
    .addHelpText('after', '\nExample:\n  tallydock operators list')
    .action(async (options) => (await work()).listOperators(options));
  const add = withRecordOptions(
    withPassphrase(
      new Command('add')
        .description('Lets somebody sign in at the desk.')
        .argument('<NAME>', 'the name with which what they decide is signed')
        .addOption(
          new Option(
            '--role <ROLE>',
            'look: see everything; work: decide, lend, enter; manage: also operators and docks',
          )
            .choices(ROLES)
            .default('work'),
        ),
    ),
  )
    .addHelpText('after', '\nExample:\n  tallydock operators add Tamsin --role work')
    .action(async (name: string, options) => (await work()).addAnOperator(name, options));
  const change = withRecordOptions(
    withPassphrase(
      new Command('change')
        .description('Gives an operator another role or passphrase, or lets them sign in no more.')
        .argument('<NAME>', 'the operator')
        .addOption(new Option('--role <ROLE>', 'another role').choices(ROLES))
        .option('--passphrase', 'a new passphrase')
        .option('--retire', 'may not sign in any more')
        .option('--return', 'may sign in again'),
    ),
  )
    .addHelpText('after', '\nExample:\n  tallydock operators change Tamsin --passphrase')
    .action(async (name: string, options) => (await work()).changeAnOperator(name, options));
  return new Command('operators')
    .description('Who may sign in at the desk.')
    .helpOption('-h, --help', 'print this help and leave')
    .helpCommand(false)
    .addCommand(list)
    .addCommand(add)
    .addCommand(change);
}
