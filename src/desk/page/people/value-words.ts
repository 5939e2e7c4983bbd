/** What is said of one value: when it was made, and what to know of it. Pure. */

import type { TimeSpan } from '../../../clinic/facts.ts';
import type { HoldCode } from '../../../clinic/holds/hold.ts';
import type { ValueRow } from '../../../reports/gather-patient.ts';
import type { Format } from '../format.ts';
import type { Words } from '../words.ts';

/** A few minutes more or less are as sure as anybody needs to know which test it was. */
const SURE_MS = 900_000;

/** When a test was made, with its bounds where it is not sure. */
export function spanWords(time: TimeSpan | undefined, { people, meters }: Words, format: Format): string {
  if (!time) return people.noTime;
  const { at, earliest, latest } = time;
  if (earliest === undefined) return latest === undefined ? people.noTime : meters.notAfter(format.moment(latest));
  if (latest === undefined) return meters.notBefore(format.moment(earliest));
  if (latest - earliest <= SURE_MS) return format.moment(at);
  const isOneDay = format.isoDay(earliest) === format.isoDay(latest);
  return people.sure(format.moment(earliest), isOneDay ? format.time(latest) : format.moment(latest));
}

/** The same of a row. */
export const timeWords = (row: ValueRow, words: Words, format: Format): string => spanWords(row.time, words, format);

/** What else is to be known of a value. */
export function noteWords(row: ValueRow, holds: readonly HoldCode[], { people }: Words): string {
  if (row.status === 'void') return people.struck(row.voidReason ?? '');
  return [
    row.status === 'held' ? people.waits(holds.map((code) => people.why[code]).join('; ')) : '',
    row.toConfirm ? people.confirm : '',
    row.status !== 'held' && row.standing && !row.isCertain ? people.unsure : '',
  ]
    .filter(Boolean)
    .join('; ');
}
