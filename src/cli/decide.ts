/** `release`, `assign`, `void` and `undo`: what an operator decides about readings. */
import { Command } from 'commander';
import { withRecordOptions } from './record-options.ts';

const work = () => import('./decide-work.ts');

/** Lets readings go on. */
export function releaseCommand(): Command {
  const command = new Command('release')
    .description('Lets readings that wait go on: somebody has looked at what is doubtful.')
    .argument('<READING...>', 'the readings')
    .requiredOption('--reason <TEXT>', 'what you looked at, in a few words');
  return withRecordOptions(command)
    .addHelpText('after', '\nExample:\n  tallydock release D17-3 --reason "laboratory agrees" --by "nurse Tamsin"')
    .action(async (ids: string[], options) => (await work()).releaseReadings(ids, options));
}

/** Says whose readings are. */
export function assignCommand(): Command {
  const command = new Command('assign')
    .description('Says whose readings are.')
    .argument('<READING...>', 'the readings')
    .option('--to <PATIENT>', 'the person’s id')
    .option('--proposed', 'each to the person who is proposed for it')
    .option('--nobody', 'to nobody of ours, such as a demonstration')
    .option('--reason <TEXT>', 'how you know', '');
  return withRecordOptions(command)
    .addHelpText(
      'after',
      '\nExamples:\n  tallydock assign D17-3 D17-4 --to ALDER-017\n  tallydock assign D18-1 --proposed',
    )
    .action(async (ids: string[], options) => (await work()).assignReadings(ids, options));
}

/** Strikes readings out. */
export function voidCommand(): Command {
  const command = new Command('void')
    .description('Strikes readings out: they stay in the store, marked, and are used no more.')
    .argument('<READING...>', 'the readings')
    .requiredOption('--reason <TEXT>', 'why, in a few words');
  return withRecordOptions(command)
    .addHelpText('after', '\nExample:\n  tallydock void D17-3 --reason "demonstration with a water drop"')
    .action(async (ids: string[], options) => (await work()).strikeOutReadings(ids, options));
}

/** Takes the newest decision back. */
export function undoCommand(): Command {
  const command = new Command('undo')
    .description('Takes back what was decided last about a reading; the decision stays on record, marked.')
    .argument('<READING>', 'the reading')
    .option('--reason <TEXT>', 'why it is taken back', '');
  return withRecordOptions(command)
    .addHelpText('after', '\nExample:\n  tallydock undo D17-3 --reason "wrong line"')
    .action(async (id: string, options) => (await work()).undoLast(id, options));
}
