/** Spans of time in words for people. The one place where the program says how long something is. */

/** A span in the two largest units that say something: `3 min 12 s`, `2 h`, `26 years 52 days`. Always positive. */
export function spanInWords(seconds: number): string {
  let rest = Math.round(Math.abs(seconds));
  const parts: string[] = [];
  for (const [size, one, many] of UNITS) {
    const count = Math.floor(rest / size);
    rest -= count * size;
    if (count > 0) parts.push(`${count} ${count === 1 ? one : many}`);
    if (parts.length === 2 || (parts.length === 1 && count === 0)) break;
  }
  return parts.length > 0 ? parts.join(' ') : '0 s';
}

// A year of 365.25 days: spans of years only occur where a clock was never set, and are said to about a day.
const UNITS: readonly (readonly [number, string, string])[] = [
  [31_557_600, 'year', 'years'],
  [86_400, 'day', 'days'],
  [3600, 'h', 'h'],
  [60, 'min', 'min'],
  [1, 's', 's'],
];
