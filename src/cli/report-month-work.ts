/** The work of `tallydock report month`. */
import { gatherMonth } from '../reports/gather-month.ts';
import { monthPage } from '../reports/month.ts';
import type { ReportOptions } from './report-options.ts';
import { writeReport } from './report-work.ts';

/** Writes the report. Throws CALL_WRONG, FILE_UNWRITABLE. */
export const reportMonth = (options: ReportOptions & { readonly month?: string }): Promise<void> =>
  writeReport(options, {
    gather: ({ store, context: { now, policy }, zone }) =>
      gatherMonth(store, { now, zone, policy, ...(options.month !== undefined && { month: options.month }) }),
    page: monthPage,
  });
