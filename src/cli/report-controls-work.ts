/** The work of `tallydock report controls`. */
import { passes, readFilter } from '../outlets/filter.ts';
import { controlsPage } from '../reports/controls.ts';
import { gatherControls } from '../reports/gather-controls.ts';
import type { ReportOptions } from './report-options.ts';
import { writeReport } from './report-work.ts';

/** Writes the report. Throws FILE_UNWRITABLE. */
export const reportControls = (options: ReportOptions): Promise<void> =>
  writeReport(options, {
    gather: ({ store, context: { now }, zone }) =>
      gatherControls(store, {
        now,
        zone,
        wants: (filter, { status, meterId }) => passes(readFilter(filter), { status, meterId, kind: 'patient' }),
      }),
    page: controlsPage,
  });
