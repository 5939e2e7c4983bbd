/**
 * The process that gathers reports: looks into the store of the data folder that it is given, answers one question after
 * the other, and ends when the daemon lets go of it. It writes nothing, and makes way for the daemon.
 */
import { constants, setPriority } from 'node:os';
import { asFault, type FaultCode } from '../core/fault.ts';
import { loadProfiles } from '../intake/profile-library.ts';
import { openStoreToRead } from '../store/open-store.ts';
import type { ReportAsk, Reports, ReportsByName } from './reports.ts';
import { reportsHere } from './reports-here.ts';

/** What it is asked, with a number of its own. */
export interface ReportQuestion {
  readonly no: number;
  readonly name: keyof ReportsByName;
  readonly ask: ReportAsk;
}

/** What it answers under that number. */
export type ReportAnswer =
  | { readonly no: number; readonly report: ReportsByName[keyof ReportsByName] }
  | {
      readonly no: number;
      readonly fault: { readonly code: FaultCode; readonly message: string; readonly hint: string };
    };

setPriority(constants.priority.PRIORITY_BELOW_NORMAL);
let reports: Reports | undefined;

async function answer({ no, name, ask }: ReportQuestion): Promise<ReportAnswer> {
  const [, , dataDir = ''] = process.argv;
  try {
    reports ??= reportsHere(openStoreToRead(dataDir), loadProfiles(dataDir));
    return { no, report: await reports.gather(name, ask) };
  } catch (thrown) {
    const { code, message, hint } = asFault(thrown);
    return { no, fault: { code, message, hint } };
  }
}

process.on('message', (question: ReportQuestion) => {
  void answer(question).then((answered) => process.send?.(answered));
});
process.once('disconnect', () => process.exit());
