/** What the filter options of a call mean: a filter for the store. */
import type { ReadingFilter } from '../store/readings.ts';
import type { FilterOptions } from './filter-options.ts';
import { momentOption } from './option-values.ts';

/** The filter of a call; local times are those of `zone`. Throws CALL_WRONG with the option's name. */
export function filterOf(options: FilterOptions, zone: string): ReadingFilter {
  const since = momentOption('--since', options.since, zone);
  const until = momentOption('--until', options.until, zone, 'end');
  return {
    ...(options.meter === undefined ? {} : { meter: options.meter }),
    ...(options.patient === undefined ? {} : { patient: options.patient }),
    ...(options.kind === undefined ? {} : { kind: options.kind }),
    ...(since === undefined ? {} : { since }),
    ...(until === undefined ? {} : { until }),
  };
}
