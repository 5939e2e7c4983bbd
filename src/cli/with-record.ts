/** Opens the store of a call for a command by which a person enters or decides something. */
import { DEFAULT_POLICY } from '../clinic/rules/policy.ts';
import { Fault } from '../core/fault.ts';
import { type Instant, instant } from '../core/instant.ts';
import { parseMoment } from '../core/local-moment.ts';
import type { RecordContext } from '../record/context.ts';
import { judgeUnjudged } from '../record/judge.ts';
import { openStore } from '../store/open-store.ts';
import type { Store } from '../store/store.ts';
import { accountName } from './account-name.ts';
import { type CommonOptions, dataFolderOf } from './common-options.ts';
import { dockZone, readConfig } from './config.ts';

/** The options of a command by which something is entered. */
export interface RecordOptions extends CommonOptions {
  /** The operator's name. */
  readonly by?: string;
}

/** What such a command is handed. */
export interface RecordCall {
  readonly store: Store;
  readonly context: RecordContext;
  /** The zone in which times are given and shown. */
  readonly zone: string;
}

/** Runs `work` on the store of the data folder; a store that is not there is made. */
export async function withRecord(options: RecordOptions, work: (call: RecordCall) => Promise<void>): Promise<void> {
  const folder = dataFolderOf(options);
  const config = readConfig(folder);
  const zone = dockZone(undefined, config);
  const now = instant(Date.now());
  const by = options.by?.trim() || accountName();
  const context: RecordContext = { now, by, policy: config.clinic ?? DEFAULT_POLICY };
  const store = openStore({ dir: folder, now });
  try {
    judgeUnjudged(store, context.policy, now);
    await work({ store, context, zone });
  } finally {
    store.close();
  }
}

/** The moment that an option gives, in local time; undefined where it was not given. Throws CALL_WRONG with the option's name. */
export function momentOption(
  option: string,
  text: string | undefined,
  zone: string,
  edge: 'start' | 'end' = 'start',
): Instant | undefined {
  if (text === undefined) return undefined;
  const read = parseMoment(text, zone, edge);
  if (read.ok) return read.value;
  throw new Fault('CALL_WRONG', `${option}: ${read.problem}`, 'Local time is meant unless it ends with Z.');
}

/** A whole number that an option gives. Throws CALL_WRONG with the option's name. */
export function wholeOption(option: string, text: string | undefined, low: number, high: number): number | undefined {
  if (text === undefined) return undefined;
  const number = Number(text);
  if (Number.isInteger(number) && number >= low && number <= high) return number;
  throw new Fault(
    'CALL_WRONG',
    `${option}: "${text}" is not a whole number from ${low} to ${high}`,
    'Write digits only.',
  );
}

/** The two limits of a range such as `2.0-3.0`. Throws CALL_WRONG with the option's name. */
export function rangeOption(option: string, text: string): { readonly low: string; readonly high: string } {
  const found = /^(\d+(?:[.,]\d+)?)\s*[-–]\s*(\d+(?:[.,]\d+)?)$/.exec(text.trim());
  if (found) return { low: (found[1] ?? '').replace(',', '.'), high: (found[2] ?? '').replace(',', '.') };
  throw new Fault('CALL_WRONG', `${option}: "${text}" is not a range`, 'Write the two limits: 2.0-3.0');
}
