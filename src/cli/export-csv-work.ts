/** The work of `tallydock export csv`: to stdout, or to a file that is either complete or not there. */
import { closeSync, fsyncSync, openSync, renameSync, rmSync, writeSync } from 'node:fs';
import { basename, dirname, join } from 'node:path';
import { Fault } from '../core/fault.ts';
import type { CommonOptions } from './common-options.ts';
import { csvHeader, csvRows } from './csv-row.ts';
import type { FilterOptions } from './filter-options.ts';
import { isReaderGone, note, print, printJson } from './output.ts';
import { filterOf } from './reading-filter.ts';
import { withStore } from './with-store.ts';

/** The options of one call. */
export type ExportCall = CommonOptions & FilterOptions & { readonly out?: string };

/** Exports. Throws FILE_UNWRITABLE. */
export async function exportCsv(options: ExportCall): Promise<void> {
  if (options.json && options.out === undefined)
    throw new Fault(
      'CALL_WRONG',
      '--json: a CSV on stdout leaves no room for JSON',
      'Add --out FILE, or leave --json out',
    );
  await withStore(options, async ({ store, zone }) => {
    const pages = store.readings.pages(filterOf(options, zone));
    if (options.out === undefined) {
      await print(csvHeader());
      for (const page of pages) {
        await print(page.map(csvRows).join(''));
        if (isReaderGone()) return;
      }
      return;
    }
    const count = writeWhole(options.out, function* () {
      yield { text: csvHeader(), count: 0 };
      for (const page of pages) yield { text: page.map(csvRows).join(''), count: page.length };
    });
    if (options.json) await printJson({ file: options.out, readings: count });
    else if (!options.quiet) note(`Wrote ${count} readings to ${options.out}`);
  });
}

/**
 * Writes pieces to a new file beside the target and moves it there when all is on the disk, so that nobody ever sees
 * half a file. Only its owner may read it: it holds patients' results. Throws FILE_UNWRITABLE.
 */
function writeWhole(target: string, pieces: () => Iterable<{ text: string; count: number }>): number {
  const draft = join(dirname(target), `.${basename(target)}.${process.pid}.part`);
  const hint = 'Check that the folder exists and may be written, and that there is room on the disk';
  const unwritable = (cause: unknown) => new Fault('FILE_UNWRITABLE', `${target} cannot be written`, hint, { cause });
  const trying = <T>(work: () => T): T => {
    try {
      return work();
    } catch (cause) {
      rmSync(draft, { force: true });
      throw unwritable(cause);
    }
  };
  const file = trying(() => openSync(draft, 'wx', 0o600));
  let count = 0;
  try {
    for (const piece of pieces()) {
      trying(() => writeSync(file, piece.text));
      count += piece.count;
    }
    trying(() => fsyncSync(file));
  } catch (thrown) {
    rmSync(draft, { force: true });
    throw thrown;
  } finally {
    closeSync(file);
  }
  trying(() => renameSync(draft, target));
  return count;
}
