/** `tallydock rebuild`: makes all readings afresh from the stored bytes and reports any difference. */
import { Command } from 'commander';
import { type Rebuilt, rebuild, rebuildFault } from '../intake/rebuild.ts';
import { describeDifference } from '../store/derived.ts';
import { type CommonOptions, withCommonOptions } from './common-options.ts';
import { makeLiveLines } from './live-lines.ts';
import { print, printJson } from './output.ts';
import { printable } from './table.ts';
import { withIntake } from './with-intake.ts';

const EXAMPLES = `
Examples:
  tallydock rebuild                   is what is stored what the bytes say?
  tallydock rebuild --accept          keep the new result where it differs, for instance after an update`;

/** The command. */
export function rebuildCommand(): Command {
  const command = new Command('rebuild').description(
    'Makes all readings afresh from the stored bytes. The result is identical, or the difference is reported.',
  );
  return withCommonOptions(command.option('--accept', 'keep the new result where it differs from the old one'))
    .addHelpText('after', EXAMPLES)
    .action((options: CommonOptions & { readonly accept?: boolean }) =>
      withIntake(options, 'rebuild', { mustExist: true }, async ({ store, profiles, context }) => {
        const live = makeLiveLines(options.quiet === true || options.json === true);
        const onCapture = (done: number, of: number) => live.show([`${done} of ${of} conversations`]);
        const rebuilt = rebuild(store, profiles, context, { accept: options.accept === true, onCapture });
        live.clear();
        if (options.json) await printJson(rebuilt);
        else await print(rebuiltText(rebuilt));
        const fault = rebuildFault(rebuilt);
        if (fault) throw fault;
      }),
    );
}

function rebuiltText({ captures, differences, accepted }: Rebuilt): string {
  const from = `from ${captures} ${captures === 1 ? 'conversation' : 'conversations'}`;
  if (differences.length === 0) return `Identical: everything was made again ${from}.\n`;
  const lines = differences.map((difference) => printable(describeDifference(difference)));
  const end = accepted ? `The new result, made ${from}, was kept.` : 'Nothing was changed.';
  return `${[...lines, end].join('\n')}\n`;
}
