/** How long to wait before an outlet that could not be reached is tried again. Pure. */

/** The first wait, milliseconds. */
const FIRST_MS = 1000;
/** No wait is longer. */
export const CEILING_MS = 300_000;

/**
 * The wait after so many failures in a row: twice as long each time up to the ceiling, of which the second half is by
 * chance, so that five hundred gateways do not all come back in the same second. `chance` lies in [0, 1).
 */
export function backOffMs(failures: number, chance: number): number {
  const full = Math.min(CEILING_MS, FIRST_MS * 2 ** Math.min(30, Math.max(0, failures - 1)));
  return Math.round(full * (0.5 + chance / 2));
}
