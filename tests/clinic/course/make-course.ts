/** Courses for tests, in days from 1 January 2025 UTC. Invented people of Port Alder only. */

import { DAY_MS, type DatedPoint, inOrder } from '../../../src/clinic/course/dated-point.ts';
import type { CoursePoint, LocalDate, Target } from '../../../src/clinic/facts.ts';
import { type Instant, instant } from '../../../src/core/instant.ts';

export const START = Date.UTC(2025, 0, 1);

/** The instant so many days (of 24 hours, parts allowed) after the start. */
export const day = (days: number): Instant => instant(Math.round(START + days * DAY_MS));

/** Local dates of Port Alder, which keeps UTC. */
export const localDate: LocalDate = (at) => new Date(at).toISOString().slice(0, 10);

/** A test at a time known to the millisecond. A value as a meter shows it: `2.4`, `<0.8`. */
export function test(days: number, shown: string | number, id = `t${days}`): CoursePoint {
  const at = day(days);
  return { id, time: { at, earliest: at, latest: at }, ...valueShown(String(shown)) };
}

/** A test at a time between bounds, all in days; null: an open bound. */
export function between(
  earliest: number | null,
  days: number,
  latest: number | null,
  shown: string | number,
  id = `t${days}`,
): CoursePoint {
  return {
    id,
    time: {
      at: day(days),
      ...(earliest !== null && { earliest: day(earliest) }),
      ...(latest !== null && { latest: day(latest) }),
    },
    ...valueShown(String(shown)),
  };
}

const valueShown = (shown: string): Pick<CoursePoint, 'value' | 'beyond'> =>
  shown.startsWith('<') || shown.startsWith('>')
    ? { value: Number(shown.slice(1)), beyond: shown.startsWith('<') ? '<' : '>' }
    : { value: Number(shown) };

/** Tests in order with their dates. */
export const dated = (...points: CoursePoint[]): DatedPoint[] => inOrder(points, localDate);

export const target = (fromDays: number, low: number, high: number): Target => ({ from: day(fromDays), low, high });

/** In force from long before any test here. */
export const USUAL: readonly Target[] = [target(-1000, 2, 3)];
