/** The work of `tallydock report meters`. */
import { driftBy } from '../intake/drift.ts';
import { loadProfiles } from '../intake/profile-library.ts';
import { gatherMeters } from '../reports/gather-meters.ts';
import { metersPage } from '../reports/meters.ts';
import { dataFolderOf } from './common-options.ts';
import type { ReportOptions } from './report-options.ts';
import { writeReport } from './report-work.ts';

/** Writes the report. Throws FILE_UNWRITABLE. */
export const reportMeters = (options: ReportOptions): Promise<void> =>
  writeReport(options, {
    gather: ({ store, context: { now, policy }, zone }) =>
      gatherMeters(store, { now, zone, policy, driftOf: driftBy(store, loadProfiles(dataFolderOf(options))) }),
    page: metersPage,
  });
