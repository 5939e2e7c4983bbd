/** The reports as the desk asks for them, for the page and for paper alike. */

import { driftBy } from '../intake/drift.ts';
import { passes, readFilter } from '../outlets/filter.ts';
import { type ComparisonReport, gatherComparison } from '../reports/gather-comparison.ts';
import { type ControlsReport, gatherControls } from '../reports/gather-controls.ts';
import { gatherMeters, type MetersReport } from '../reports/gather-meters.ts';
import { gatherMonth, type MonthReport } from '../reports/gather-month.ts';
import type { DeskTools } from './tools.ts';

export interface Reports {
  meters(): MetersReport;
  controls(): ControlsReport;
  comparison(): ComparisonReport;
  /** Throws CALL_WRONG for what is no month. */
  month(month: string | undefined): MonthReport;
}

/** The reports of a store as they are when they are asked for. */
export function makeReports({ store, profiles, now, zone, policy }: DeskTools): Reports {
  const driftOf = driftBy(store, profiles);
  const ask = () => ({ now: now(), zone: zone(), policy: policy() });
  return {
    meters: () => gatherMeters(store, { ...ask(), driftOf }),
    controls: () =>
      gatherControls(store, {
        ...ask(),
        wants: (filter, { status, meterId }) => passes(readFilter(filter), { status, meterId, kind: 'patient' }),
      }),
    comparison: () => gatherComparison(store, ask()),
    month: (month) => gatherMonth(store, { ...ask(), ...(month === undefined ? {} : { month }) }),
  };
}
