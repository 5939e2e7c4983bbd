/**
 * The data of a report as the program's JSON is everywhere: keys in snake_case, moments as RFC 3339 UTC. In the data of
 * a report a number under one of these keys is a moment. Pure.
 */
import { formatInstant, type Instant } from '../core/instant.ts';

const MOMENTS = new Set([
  'asOf',
  'at',
  'cautiousAt',
  'earliest',
  'firstAt',
  'expectedAt',
  'from',
  'last',
  'lastAt',
  'lastGood',
  'latest',
  'left',
  'nextDue',
  'now',
  'seen',
  'setAt',
  'since',
  'takenAt',
  'to',
  'until',
]);

/** A copy with keys and moments as in all our JSON. */
export function plainData(value: unknown, key = ''): unknown {
  if (typeof value === 'number') return MOMENTS.has(key) ? formatInstant(value as Instant) : value;
  if (Array.isArray(value)) return value.map((item) => plainData(item, key));
  if (typeof value !== 'object' || value === null) return value;
  return Object.fromEntries(
    Object.entries(value).map(([name, inner]) => [
      name.replace(/[A-Z]/g, (letter) => `_${letter.toLowerCase()}`),
      plainData(inner, name),
    ]),
  );
}
