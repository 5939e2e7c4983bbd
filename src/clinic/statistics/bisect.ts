/** Inverts a rising function by halving: slow but sure, to the last digit that a double holds. */

/**
 * The argument in [low, high] at which the rising function reaches `target`; the nearer end where it never does.
 * Ends when no double lies between the bounds.
 */
export function whereReached(rising: (x: number) => number, target: number, low: number, high: number): number {
  let lo = low;
  let hi = high;
  for (;;) {
    const middle = lo + (hi - lo) / 2;
    if (middle <= lo || middle >= hi) break;
    if (rising(middle) < target) lo = middle;
    else hi = middle;
  }
  return target - rising(lo) < rising(hi) - target ? lo : hi;
}
