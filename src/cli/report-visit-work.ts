/** The work of `tallydock report visit`. */
import { gatherVisit } from '../reports/gather-visit.ts';
import { visitPage } from '../reports/visit.ts';
import type { ReportOptions } from './report-options.ts';
import { writeReport } from './report-work.ts';

/** Writes the sheet. Throws NOT_POSSIBLE, FILE_UNWRITABLE. */
export const reportVisit = (meterId: string, options: ReportOptions & { readonly model?: string }): Promise<void> =>
  writeReport(options, {
    gather: ({ store, context: { now, policy }, zone }) =>
      gatherVisit(store, { meterId, now, zone, policy, ...(options.model !== undefined && { model: options.model }) }),
    page: visitPage,
  });
