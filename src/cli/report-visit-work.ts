/** The work of `tallydock report visit`. */
import { gatherVisit } from '../reports/gather-visit.ts';
import { visitPage } from '../reports/visit.ts';
import { VISIT_WORDS } from '../reports/visit-words.ts';
import type { ReportOptions } from './report-options.ts';
import { writeReport } from './report-work.ts';

/** The options of one call. */
export type VisitCall = ReportOptions & { readonly model?: string; readonly lang: keyof typeof VISIT_WORDS };

/** Writes the sheet. Throws NOT_POSSIBLE, FILE_UNWRITABLE. */
export const reportVisit = (meterId: string, options: VisitCall): Promise<void> =>
  writeReport(options, {
    gather: ({ store, context: { now, policy }, zone }) =>
      gatherVisit(store, { meterId, now, zone, policy, ...(options.model !== undefined && { model: options.model }) }),
    page: (report, printedAt) => visitPage(report, printedAt, VISIT_WORDS[options.lang]),
  });
