/** `tallydock lots`: the register of strip lots; its forms are commands of their own. */
import { Command } from 'commander';
import { withCommonOptions } from './common-options.ts';
import { withRecordOptions } from './record-options.ts';

const work = () => import('./registers-work.ts');

/** The command with its forms. */
export function lotsCommand(): Command {
  const list = withCommonOptions(new Command('list').description('Lists the strip lots.'))
    .addHelpText('after', '\nExample:\n  tallydock lots list')
    .action(async (options) => (await work()).listLots(options));
  const add = withRecordOptions(
    new Command('add')
      .description('Enters a strip lot; entered again, what is given replaces what was known.')
      .argument('<LOT>', 'the lot as printed on the box')
      .option('--expiry <DATE>', '2027-03-31, or 2027-03 for the end of that month')
      .option('--code <CODE>', 'the code that is keyed into the meter')
      .option('--isi <NUMBER>', 'international sensitivity index')
      .option('--mnpt <SECONDS>', 'mean normal prothrombin time'),
  )
    .addHelpText(
      'after',
      '\nOnce a lot is entered, readings of lots that are not in the register wait.\n\nExample:\n  tallydock lots add 4471903 --expiry 2027-03 --isi 1.02 --mnpt 12.1',
    )
    .action(async (lot: string, options) => (await work()).addLot(lot, options));
  return new Command('lots')
    .description('The register of strip lots.')
    .helpOption('-h, --help', 'print this help and leave')
    .helpCommand(false)
    .addCommand(list)
    .addCommand(add);
}
