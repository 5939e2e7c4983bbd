/** What the filter options of a call mean: a filter for the store. */
import { Fault } from '../core/fault.ts';
import type { Instant } from '../core/instant.ts';
import { parseMoment } from '../core/local-moment.ts';
import type { ReadingFilter } from '../store/readings.ts';
import type { FilterOptions } from './filter-options.ts';

/** The filter of a call; local times are those of `zone`. Throws CALL_WRONG with the option's name. */
export function filterOf(options: FilterOptions, zone: string): ReadingFilter {
  return {
    ...(options.meter === undefined ? {} : { meter: options.meter }),
    ...(options.patient === undefined ? {} : { patient: options.patient }),
    ...(options.kind === undefined ? {} : { kind: options.kind }),
    ...(options.since === undefined ? {} : { since: moment('--since', options.since, zone, 'start') }),
    ...(options.until === undefined ? {} : { until: moment('--until', options.until, zone, 'end') }),
  };
}

function moment(option: string, text: string, zone: string, edge: 'start' | 'end'): Instant {
  const read = parseMoment(text, zone, edge);
  if (read.ok) return read.value;
  throw new Fault(
    'CALL_WRONG',
    `${option}: "${text}" is not a time`,
    'Write 2026-03-01, 2026-03-01T14:30 or 2026-03-01T14:30:00Z',
  );
}
