/** Gathers the reports in this process. */
import { driftBy } from '../intake/drift.ts';
import type { ProfileLibrary } from '../intake/profile-library.ts';
import { passes, readFilter } from '../outlets/filter.ts';
import { gatherComparison } from '../reports/gather-comparison.ts';
import { gatherControls } from '../reports/gather-controls.ts';
import { gatherMeters } from '../reports/gather-meters.ts';
import { gatherMonth } from '../reports/gather-month.ts';
import type { Store } from '../store/store.ts';
import type { ReportAsk, Reports, ReportsByName } from './reports.ts';

/** The reports of an open store as they are when they are asked for. */
export function reportsHere(store: Store, profiles: ProfileLibrary): Reports {
  const driftOf = driftBy(store, profiles);
  const gatherers: { readonly [N in keyof ReportsByName]: (ask: ReportAsk) => ReportsByName[N] } = {
    meters: (ask) => gatherMeters(store, { ...ask, driftOf }),
    controls: (ask) =>
      gatherControls(store, {
        ...ask,
        wants: (filter, { status, meterId }) => passes(readFilter(filter), { status, meterId, kind: 'patient' }),
      }),
    comparison: (ask) => gatherComparison(store, ask),
    month: (ask) => gatherMonth(store, ask),
  };
  return {
    gather: async (name, ask) => gatherers[name](ask),
    close: () => undefined,
  };
}
