/** The work of `tallydock report comparison`. */
import { comparisonPage } from '../reports/comparison.ts';
import { gatherComparison } from '../reports/gather-comparison.ts';
import { momentOption } from './option-values.ts';
import type { ReportOptions } from './report-options.ts';
import { writeReport } from './report-work.ts';

/** The options of one call. */
export type ComparisonCall = ReportOptions & { readonly since?: string; readonly until?: string };

/** Writes the report. Throws CALL_WRONG, FILE_UNWRITABLE. */
export const reportComparison = (options: ComparisonCall): Promise<void> =>
  writeReport(options, {
    gather: ({ store, context: { now }, zone }) => {
      const since = momentOption('--since', options.since, zone);
      const until = momentOption('--until', options.until, zone, 'end');
      return gatherComparison(store, {
        now,
        zone,
        ...(since !== undefined && { since }),
        ...(until !== undefined && { until }),
      });
    },
    page: comparisonPage,
  });
