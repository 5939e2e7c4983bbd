/**
 * How sure the time of a test is, in the three ways in which records elsewhere can hold it, and local time with its
 * offset. One rule for all outlets: a point where the time is known to ten minutes, else a span, else nothing.
 */
import type { Instant } from '../core/instant.ts';
import { formatWall } from '../core/meter-time.ts';
import type { Placement } from '../core/placement.ts';
import type { Zone } from '../core/zone.ts';

/** Bounds further apart than this make a span of a time, milliseconds. */
const WIDEST_POINT_MS = 600_000;

/** When a test was made, as far as it is known. */
export type When =
  | { readonly kind: 'point'; readonly at: Instant }
  /** `at` is the best estimate. An end that is absent is open; one of the two is there. */
  | { readonly kind: 'span'; readonly at?: Instant; readonly earliest?: Instant; readonly latest?: Instant }
  | { readonly kind: 'unknown' };

/**
 * A `bounded` time is always a span. An `interpolated` or `anchored` one is a point where its bounds lie at most ten
 * minutes apart. A `displayed` one is the meter's own word, which nothing contradicts: a point, with a remark.
 */
export function whenOf(placement: Placement | undefined): When {
  if (!placement) return { kind: 'unknown' };
  const { takenAt, earliest, latest, basis } = placement;
  if (takenAt !== undefined && basis === 'displayed') return { kind: 'point', at: takenAt };
  const isNarrow = earliest !== undefined && latest !== undefined && latest - earliest <= WIDEST_POINT_MS;
  if (takenAt !== undefined && basis !== 'bounded' && isNarrow) return { kind: 'point', at: takenAt };
  if (earliest === undefined && latest === undefined)
    return takenAt === undefined || basis === 'bounded' ? { kind: 'unknown' } : { kind: 'point', at: takenAt };
  return {
    kind: 'span',
    ...(takenAt === undefined ? {} : { at: takenAt }),
    ...(earliest === undefined ? {} : { earliest }),
    ...(latest === undefined ? {} : { latest }),
  };
}

/** Which way a moment between two seconds is told. */
export type Rounding = 'floor' | 'ceil' | 'round';

/** Local time of a zone in whole seconds, ISO without the zone, and the offset from UTC beside it (`+01:00`). */
export function localWithOffset(at: Instant, zone: Zone, rounding: Rounding): { local: string; offset: string } {
  const second = (Math[rounding](at / 1000) * 1000) as Instant;
  const minutes = Math.round(zone.offsetAt(second) / 60_000);
  const two = (n: number): string => String(n).padStart(2, '0');
  const size = Math.abs(minutes);
  const offset = `${minutes < 0 ? '-' : '+'}${two(Math.floor(size / 60))}:${two(size % 60)}`;
  return { local: formatWall(zone.wallAt(second)), offset };
}
