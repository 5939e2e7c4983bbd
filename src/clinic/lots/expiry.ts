/** Expiry dates as they are printed: a day, or a month that may be used to its end. */

/**
 * True after the last day printed. `expiry` is `YYYY-MM-DD`, or `YYYY-MM` which means the end of that month; `day` is a
 * local date `YYYY-MM-DD`. The day of expiry itself is still good.
 */
export const isExpired = (expiry: string, day: string): boolean => day.slice(0, expiry.length) > expiry;
