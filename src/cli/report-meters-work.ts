/** The work of `tallydock report meters`. */
import { meterClock } from '../clock/meter-clock.ts';
import { placeWhole } from '../intake/placing.ts';
import { loadProfiles } from '../intake/profile-library.ts';
import { gatherMeters } from '../reports/gather-meters.ts';
import { metersPage } from '../reports/meters.ts';
import { dataFolderOf } from './common-options.ts';
import type { ReportOptions } from './report-options.ts';
import { writeReport } from './report-work.ts';

/** Days for which the clock room tells the drift of a meter. */
const MONTH_DAYS = 30;

/** Writes the report. Throws FILE_UNWRITABLE. */
export const reportMeters = (options: ReportOptions): Promise<void> =>
  writeReport(options, {
    gather: ({ store, context: { now, policy }, zone }) => {
      const profiles = loadProfiles(dataFolderOf(options));
      const driftOf = (meterNo: number): number | undefined => {
        const last = store.downloads.list(meterNo).at(-1);
        if (!last) return undefined;
        const { drift } = meterClock(placeWhole(store, meterNo, profiles.get(last.profile)));
        return drift && drift.secondsAMonth / MONTH_DAYS;
      };
      return gatherMeters(store, { now, zone, policy, driftOf });
    },
    page: metersPage,
  });
