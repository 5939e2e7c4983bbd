/** The work of `tallydock replay`: takes the files in one after the other and says what became of each. */
import { type Replayed, replayFiles } from '../intake/replay.ts';
import type { CommonOptions } from './common-options.ts';
import { downloadJson } from './downloads-work.ts';
import { makeLiveLines } from './live-lines.ts';
import { print, printJson } from './output.ts';
import { printable } from './table.ts';
import { withIntake } from './with-intake.ts';

/** Takes the files in. Throws the fault of the first that is wrong; what came before it stays. */
export function replay(files: string[], options: CommonOptions): Promise<void> {
  return withIntake(options, 'replay', { mustExist: false }, async ({ store, profiles, context }) => {
    const live = makeLiveLines(options.quiet === true || options.json === true);
    let done = 0;
    let added = 0;
    try {
      for (const replayed of replayFiles(store, files, profiles, context)) {
        done += 1;
        if (!replayed.taken.already) added += replayed.taken.downloads.reduce((sum, d) => sum + d.new, 0);
        live.clear();
        if (options.json) await printJson(replayedJson(replayed));
        else await print(replayedText(replayed));
        live.show([`${done} of ${files.length} files`]);
      }
    } finally {
      live.clear();
    }
    if (!options.json && files.length > 1) await print(`${files.length} files, ${added} new readings\n`);
  });
}

function replayedText({ file, taken }: Replayed): string {
  const name = printable(file);
  if (taken.already) return `${name}: taken in before, nothing changed\n`;
  if (taken.downloads.length === 0) return `${name}: no meter named itself in it; its bytes are kept\n`;
  return taken.downloads
    .map((d) => {
      const part = d.complete ? '' : ' (not complete)';
      return `${name}: ${printable(`${d.meterModel} ${d.meterId}`)}: ${d.new} new, ${d.known} known${part}\n`;
    })
    .join('');
}

const replayedJson = ({ file, taken }: Replayed): Record<string, unknown> => ({
  file,
  already: taken.already,
  downloads: taken.downloads.map(downloadJson),
});
