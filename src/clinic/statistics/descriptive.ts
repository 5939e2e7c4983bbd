/** Mean, standard deviation, median and quantiles of a list of numbers. All of an empty list is NaN: not a figure. */

/** Arithmetic mean. The second pass takes out what rounding left in the first. */
export function mean(values: readonly number[]): number {
  const rough = sum(values) / values.length;
  return rough + sum(values.map((v) => v - rough)) / values.length;
}

/** Standard deviation of a sample, divided by n − 1. NaN for fewer than two values. */
export function standardDeviation(values: readonly number[]): number {
  if (values.length < 2) return Number.NaN;
  const middle = mean(values);
  return Math.sqrt(sum(values.map((v) => (v - middle) ** 2)) / (values.length - 1));
}

/** The middle value, or the mean of the two in the middle. */
export const median = (values: readonly number[]): number => quantile(values, 0.5);

/**
 * The p-quantile (0 to 1), on a straight line between the ordered values at 1 + (n − 1)p: type 7 of Hyndman & Fan,
 * The American Statistician 1996;50:361 (from memory), the default of R and of most spreadsheets. NaN for p outside 0 to 1.
 */
export function quantile(values: readonly number[], p: number): number {
  if (!(p >= 0 && p <= 1)) return Number.NaN;
  const sorted = values.toSorted((a, b) => a - b);
  const place = (sorted.length - 1) * p;
  const below = sorted[Math.floor(place)] ?? Number.NaN;
  const above = sorted[Math.ceil(place)] ?? Number.NaN;
  return below + (above - below) * (place - Math.floor(place));
}

function sum(values: readonly number[]): number {
  let total = 0;
  for (const value of values) total += value;
  return total;
}
