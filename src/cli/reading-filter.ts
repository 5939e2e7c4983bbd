/** What the filter options of a call mean: a filter for the store. */
import { Fault } from '../core/fault.ts';
import { type Instant, instant, parseInstant } from '../core/instant.ts';
import { parseMeterTime, wall } from '../core/meter-time.ts';
import { zoneOf } from '../core/zone.ts';
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

/** An RFC 3339 time, or a local date or time; a date means its first moment, or the first one after it. */
function moment(option: string, text: string, zone: string, edge: 'start' | 'end'): Instant {
  const exact = parseInstant(text);
  if (exact.ok) return exact.value;
  const local = parseMeterTime(text);
  if (!local.ok)
    throw new Fault(
      'CALL_WRONG',
      `${option}: "${text}" is not a time`,
      'Write 2026-03-01, 2026-03-01T14:30 or 2026-03-01T14:30:00Z',
    );
  const isDay = !text.includes('T');
  const found = zoneOf(zone).momentOf(isDay && edge === 'end' ? wall(local.value.wall + 86_400_000) : local.value.wall);
  return instant(found.kind === 'unique' ? found.at : found.earlier);
}
