/** What every command that imports a table does: reads the file, and shows the fate of every row. */

import { readFileSync } from 'node:fs';
import { Fault } from '../core/fault.ts';
import { systemCode } from '../core/system-code.ts';
import type { RecordContext } from '../record/context.ts';
import type { ImportOptions } from '../record/imports/import-rows.ts';
import { importFault, type RowFate } from '../record/imports/table.ts';
import type { Store } from '../store/store.ts';
import { note, print, printJson } from './output.ts';
import { makeTable } from './table.ts';
import { type RecordOptions, withRecord } from './with-record.ts';

/** The options of such a command. */
export type ImportCall = RecordOptions & { readonly dryRun?: boolean };

/** Takes a table in. */
export type Take = (
  store: Store,
  context: RecordContext,
  bytes: Uint8Array,
  options: ImportOptions,
) => readonly RowFate[];

/** Imports a file. Throws FILE_MISSING, FILE_UNREADABLE or IMPORT_WRONG; also after a dry run that found a wrong row. */
export async function importFile(file: string, options: ImportCall, take: Take): Promise<void> {
  const bytes = readBytes(file);
  const isDryRun = options.dryRun === true;
  await withRecord(options, async ({ store, context, zone }) => {
    const fates = take(store, context, bytes, { file, zone, isDryRun });
    if (options.json) for (const fate of fates) await printJson(fate);
    else {
      const shown = isDryRun ? fates : fates.filter((f) => f.fate !== 'known');
      const table = makeTable(['>line', 'who', 'fate', 'what']);
      if (shown.length > 0)
        await print(table.rows(shown.map((f) => [String(f.line), f.subject, WORDS[f.fate], f.detail])));
      await print(`${summary(fates)}${isDryRun ? ' Nothing was changed: this was a dry run.' : ''}\n`);
    }
    const fault = importFault(file, fates);
    if (fault) throw fault;
    if (isDryRun && !options.quiet && !options.json) note('Leave --dry-run out to take the table over.');
  });
}

const WORDS: Readonly<Record<RowFate['fate'], string>> = {
  added: 'added',
  changed: 'changed',
  known: 'as it was',
  wrong: 'WRONG',
};

function summary(fates: readonly RowFate[]): string {
  const count = (fate: RowFate['fate']): number => fates.filter((f) => f.fate === fate).length;
  const parts = (['added', 'changed', 'known', 'wrong'] as const)
    .map((fate) => [count(fate), WORDS[fate].toLowerCase()] as const)
    .filter(([n]) => n > 0);
  return parts.length === 0 ? 'The table has no rows.' : `${parts.map(([n, word]) => `${n} ${word}`).join(', ')}.`;
}

function readBytes(file: string): Uint8Array {
  try {
    return readFileSync(file);
  } catch (cause) {
    const isMissing = systemCode(cause) === 'ENOENT';
    throw isMissing
      ? new Fault('FILE_MISSING', `There is no file ${file}`, 'Check the name and the folder.', { cause })
      : new Fault('FILE_UNREADABLE', `${file} cannot be read`, 'Check its permissions.', { cause });
  }
}
