/** Moments as people write them, read as true time. */
import { bad, good, type Parsed } from './fault.ts';
import { type Instant, instant, parseInstant } from './instant.ts';
import { parseMeterTime, wall } from './meter-time.ts';
import { type Zone, zoneOf } from './zone.ts';

const DAY_MS = 86_400_000;

/**
 * Reads an RFC 3339 time, or a local date or time of the zone (`2026-03-01`, `2026-03-01 14:30`, `2026-03-01T14:30`).
 * A date means its first moment (`start`), or the first one after it (`end`). In the hour that happens twice the
 * earlier is meant.
 */
export function parseMoment(text: string, zone: Zone | string, edge: 'start' | 'end' = 'start'): Parsed<Instant> {
  const exact = parseInstant(text);
  if (exact.ok) return exact;
  const local = parseMeterTime(text.trim().replace(/^(\d{4}-\d{2}-\d{2}) (?=\d)/, '$1T'));
  if (!local.ok) return bad(`"${text}" is not a time; write 2026-03-01, 2026-03-01T14:30 or 2026-03-01T14:30:00Z`);
  const isDay = local.value.resolutionMs === DAY_MS;
  const found = (typeof zone === 'string' ? zoneOf(zone) : zone).momentOf(
    isDay && edge === 'end' ? wall(local.value.wall + DAY_MS) : local.value.wall,
  );
  return good(instant(found.kind === 'unique' ? found.at : found.earlier));
}
