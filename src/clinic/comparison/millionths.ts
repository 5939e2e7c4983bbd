/**
 * Decimals counted in millionths. A laboratory's 2.6 less 2.0 is 0.6000000000000001 in binary, which would lie outside
 * of 30 % and give a slope that is not quite −1 where the standard methods ask for exactly −1. Counted in millionths,
 * sums and differences of decimals are whole numbers and exact. A seventh decimal is rounded.
 */

/** A decimal as a whole number of millionths. */
export const millionths = (value: number): number => Math.round(value * 1e6);

/** a − b, as it would be written in decimals. */
export const decimalDifference = (a: number, b: number): number => (millionths(a) - millionths(b)) / 1e6;
