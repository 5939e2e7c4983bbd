/** The work of `tallydock export research`: to stdout, or to a file that is either complete or not there. */
import { randomBytes } from 'node:crypto';
import { Fault } from '../core/fault.ts';
import { researchPieces } from '../outlets/research.ts';
import { readSecret } from '../outlets/secret.ts';
import { writePieces } from '../store/write-whole.ts';
import type { CommonOptions } from './common-options.ts';
import { isReaderGone, note, print, printJson } from './output.ts';
import { withStore } from './with-store.ts';

/** The options of one call. */
export type ResearchCall = CommonOptions & { readonly out?: string; readonly keyFile?: string };

/** Exports. Throws CALL_WRONG, OUTLET_INVALID for a key that cannot be used, FILE_UNWRITABLE. */
export async function exportResearch(options: ResearchCall): Promise<void> {
  if (options.json && options.out === undefined)
    throw new Fault(
      'CALL_WRONG',
      '--json: a CSV on stdout leaves no room for JSON',
      'Add --out FILE, or leave --json out',
    );
  // A key that nobody ever sees: the pseudonyms of two exports have nothing in common.
  const key = options.keyFile === undefined ? randomBytes(32).toString('hex') : readSecret({ file: options.keyFile });
  await withStore(options, async ({ store, zone }) => {
    if (options.out === undefined) {
      for (const { text } of researchPieces(store, { key, zone })) {
        await print(text);
        if (isReaderGone()) return;
      }
      return;
    }
    const count = writePieces(options.out, () => researchPieces(store, { key, zone }));
    if (options.json) await printJson({ file: options.out, tests: count });
    else if (!options.quiet) note(`Wrote ${count} tests to ${options.out}`);
  });
}
