/** The work of `tallydock report patient`. */
import { gatherPatient } from '../reports/gather-patient.ts';
import { patientPage } from '../reports/patient.ts';
import { momentOption } from './option-values.ts';
import type { ReportOptions } from './report-options.ts';
import { writeReport } from './report-work.ts';

/** The options of one call. */
export type PatientReportCall = ReportOptions & { readonly since?: string; readonly until?: string };

/** Writes the report. Throws PATIENT_UNKNOWN, CALL_WRONG, FILE_UNWRITABLE. */
export const reportPatient = (patientId: string, options: PatientReportCall): Promise<void> =>
  writeReport(options, {
    gather: ({ store, context: { now, policy }, zone }) => {
      const since = momentOption('--since', options.since, zone);
      const until = momentOption('--until', options.until, zone, 'end');
      return gatherPatient(store, {
        patientId,
        now,
        zone,
        policy,
        ...(since !== undefined && { since }),
        ...(until !== undefined && { until }),
      });
    },
    page: patientPage,
  });
