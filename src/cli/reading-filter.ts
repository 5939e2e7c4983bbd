/** The options that choose among readings, alike for the list and the export. */
import { type Command, Option } from 'commander';
import { Fault } from '../core/fault.ts';
import { type Instant, instant, parseInstant } from '../core/instant.ts';
import { parseMeterTime, wall } from '../core/meter-time.ts';
import { zoneOf } from '../core/zone.ts';
import type { ReadingFilter } from '../store/readings.ts';

export interface FilterOptions {
  readonly meter?: string;
  readonly patient?: string;
  readonly since?: string;
  readonly until?: string;
  readonly kind?: 'patient' | 'control' | 'error';
}

/** Adds the filter options to a command. */
export function withFilterOptions(command: Command): Command {
  return command
    .option('--meter <ID>', 'only readings of the meter with this serial number')
    .option('--patient <ID>', 'only readings of this patient identifier')
    .option('--since <TIME>', 'only tests made at this time or later: 2026-03-01, 2026-03-01T14:30, or with a zone')
    .option('--until <TIME>', 'only tests made before this time; a day without an hour counts whole')
    .addOption(new Option('--kind <KIND>', 'only tests of this kind').choices(['patient', 'control', 'error']));
}

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
