/** `tallydock controls`: the register of control materials; its forms are commands of their own. */
import { Command } from 'commander';
import { withCommonOptions } from './common-options.ts';
import { withRecordOptions } from './record-options.ts';

const work = () => import('./registers-work.ts');

/** The command with its forms. */
export function controlsCommand(): Command {
  const list = withCommonOptions(new Command('list').description('Lists the control materials with their limits.'))
    .addHelpText('after', '\nExample:\n  tallydock controls list')
    .action(async (options) => (await work()).listControls(options));
  const add = withRecordOptions(
    new Command('add')
      .description('Enters one level of a control material.')
      .argument('<LOT>', 'lot of the control material')
      .argument('<LEVEL>', 'its level, such as 1 or high')
      .option('--analyte <NAME>', 'what it controls', 'INR')
      .option('--mean <NUMBER>', 'mean, with --sd')
      .option('--sd <NUMBER>', 'standard deviation')
      .option('--range <LOW-HIGH>', 'the printed range instead of mean and SD')
      .option('--range-sd <NUMBER>', 'standard deviations that the printed range means on either side: 2 or 3', '2')
      .option('--electronic', 'it tests the meter alone, without a strip')
      .option('--expiry <DATE>', '2027-03-31, or 2027-03'),
  )
    .addHelpText(
      'after',
      '\nExamples:\n  tallydock controls add QC88 1 --mean 1.1 --sd 0.08\n  tallydock controls add QC88 2 --range 2.6-3.6',
    )
    .action(async (lot: string, level: string, options) => (await work()).addControl(lot, level, options));
  const name = withRecordOptions(
    new Command('name')
      .description('Says which control a control test was made with, where the value alone does not tell.')
      .argument('<READING>', 'the control test')
      .argument('<NUMBER>', 'the number of the level, as "controls list" shows it'),
  )
    .addHelpText('after', '\nExample:\n  tallydock controls name D12-4 2')
    .action(async (id: string, level: string, options) => (await work()).nameControlTest(id, level, options));
  return new Command('controls')
    .description('The register of control materials.')
    .helpOption('-h, --help', 'print this help and leave')
    .helpCommand(false)
    .addCommand(list)
    .addCommand(add)
    .addCommand(name);
}
