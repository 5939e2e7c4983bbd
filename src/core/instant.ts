/**
 * True time: an instant in whole milliseconds since 1970 UTC, branded so that it cannot be mixed with a meter's wall
 * clock. One formatter and one parser for the whole program.
 */
import { bad, good, type Parsed } from './fault.ts';

/** Milliseconds since 1970-01-01T00:00:00Z. */
export type Instant = number & { readonly __brand: 'Instant' };

/** Marks a number of milliseconds since 1970 UTC as an instant. */
export const instant = (ms: number): Instant => ms as Instant;

/** RFC 3339 UTC with milliseconds: 2026-03-02T10:15:00.000Z. */
export const formatInstant = (at: Instant): string => new Date(at).toISOString();

/** RFC 3339 UTC in whole seconds, cut down (`floor`), up (`ceil`) or to the nearest second (`round`). */
export function formatSeconds(at: Instant, rounding: 'floor' | 'ceil' | 'round'): string {
  const seconds = Math[rounding](at / 1000);
  return new Date(seconds * 1000).toISOString().replace('.000Z', 'Z');
}

const RFC3339 = /^\d{4}-\d{2}-\d{2}T\d{2}:\d{2}:\d{2}(\.\d{1,9})?(Z|[+-]\d{2}:\d{2})$/;

/** Reads an RFC 3339 time with a zone. Refuses times that do not exist. */
export function parseInstant(text: string): Parsed<Instant> {
  if (!RFC3339.test(text)) return bad(`"${text}" is not a time like 2026-03-02T10:15:00Z`);
  const ms = Date.parse(text);
  if (!Number.isFinite(ms)) return bad(`"${text}" does not exist`);
  // Date.parse lets 30 February roll over into March: the day must survive.
  const day = new Date(Date.parse(`${text.slice(0, 10)}T00:00:00Z`)).toISOString().slice(0, 10);
  return day === text.slice(0, 10) ? good(instant(ms)) : bad(`"${text}" does not exist`);
}
