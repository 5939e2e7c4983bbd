/** What all forms of `tallydock report` share: the call on the store, and where the page goes. */
import { resolve } from 'node:path';
import { localMinute } from '../core/local-words.ts';
import { zoneOf } from '../core/zone.ts';
import { plainData } from '../reports/plain-data.ts';
import { writeWhole } from '../store/write-whole.ts';
import { note, print } from './output.ts';
import type { ReportOptions } from './report-options.ts';
import { printable } from './table.ts';
import { type RecordCall, withRecord } from './with-record.ts';

/** A report: plain data, and the page made of it. */
export interface Report<Data> {
  /** Takes the data from the store. */
  readonly gather: (call: RecordCall) => Data;
  /** Makes the page; `printedAt` is in words. */
  readonly page: (data: Data, printedAt: string) => string;
}

/** Writes the report as a page, or with `--json` as plain data. Throws FILE_UNWRITABLE. */
export function writeReport<Data>(options: ReportOptions, { gather, page }: Report<Data>): Promise<void> {
  return withRecord(options, async (call) => {
    const data = gather(call);
    const printedAt = `${localMinute(call.context.now, zoneOf(call.zone))} (${call.zone})`;
    const text = options.json ? `${JSON.stringify(plainData(data))}\n` : page(data, printedAt);
    if (options.out === undefined) return print(text);
    writeWhole(resolve(options.out), text);
    note(`Written: ${printable(options.out)}`);
  });
}
