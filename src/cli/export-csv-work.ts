/** The work of `tallydock export csv`: to stdout, or to a file that is either complete or not there. */
import { Fault } from '../core/fault.ts';
import { csvHeader, csvRows } from '../outlets/csv/csv-row.ts';
import { writePieces } from '../store/write-whole.ts';
import type { CommonOptions } from './common-options.ts';
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
    const count = writePieces(options.out, function* () {
      yield { text: csvHeader(), count: 0 };
      for (const page of pages) yield { text: page.map(csvRows).join(''), count: page.length };
    });
    if (options.json) await printJson({ file: options.out, readings: count });
    else if (!options.quiet) note(`Wrote ${count} readings to ${options.out}`);
  });
}
