/** What the statistics of a comparison work on. */

/** The laboratory's value (x) and the meter's (y) of one pair, both positive. */
export interface XY {
  readonly x: number;
  readonly y: number;
}

/** y = intercept + slope · x. */
export interface Line {
  readonly slope: number;
  readonly intercept: number;
}
