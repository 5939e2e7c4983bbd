/**
 * The best times of tests that each lie within bounds and keep their order, where the time between two neighbours is worth
 * so much a millisecond. A linear programme of a chain, solved exactly: the worth of the tests up to one, as a function of
 * the latest time that it may have, is concave and made of straight pieces, and each next test adds one piece and takes
 * some away. Time and room grow with the number of tests.
 */

/** Bounds of tests in order, ms. Both lists never fall, and low[i] <= high[i]. */
export interface Boxes {
  readonly low: Float64Array;
  readonly high: Float64Array;
}

/** The times t, low <= t <= high and never falling, with the greatest sum of worth[i] · (t[i+1] − t[i]): one worth less than tests. */
export function orderedTimes({ low, high }: Boxes, worth: Float64Array): Float64Array {
  const n = low.length;
  // Pieces of the function, from `first` to before `end`: each reaches from the end of the one before to `until`. Slopes
  // fall from piece to piece and are kept less `shift`, which holds for all.
  const until = new Float64Array(n);
  const slope = new Float64Array(n);
  let first = 0;
  let end = 0;
  let shift = 0;
  const times = new Float64Array(n);
  for (let i = 0; i < n; i++) {
    const from = low[i] ?? 0;
    const to = high[i] ?? 0;
    // Times before this test's earliest are no longer possible for what comes.
    while (first < end && (until[first] ?? 0) <= from) first++;
    // From where it stopped rising the function is level; it is carried on to this test's latest.
    until[end] = to;
    slope[end++] = -shift;
    // There is nothing before the first test and nothing behind the last.
    shift += (worth[i - 1] ?? 0) - (worth[i] ?? 0);
    // Where it falls, an earlier time is better.
    while (end > first && (slope[end - 1] ?? 0) + shift < 0) end--;
    times[i] = end > first ? (until[end - 1] ?? 0) : from;
  }
  // Each test lies at its own best time unless the next one is earlier.
  for (let i = n - 2; i >= 0; i--) times[i] = Math.min(times[i] ?? 0, times[i + 1] ?? 0);
  return times;
}
