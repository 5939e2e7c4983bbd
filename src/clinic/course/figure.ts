/** Figures that may not exist: "not calculable" is a value with a reason, never a zero and never a hole. */

/** A figure that cannot be reckoned, and why. */
export interface NotCalculable {
  readonly kind: 'not-calculable';
  /** A stable word to branch on. */
  readonly reason:
    | 'too-few-tests'
    | 'no-target'
    | 'only-gaps'
    | 'too-short'
    | 'tests-uncertain'
    | 'no-spread-in-time'
    | 'zero-mean'
    | 'nothing-planned';
  /** The same for people. */
  readonly sentence: string;
}

/** One number, or why there is none. */
export type Figure = { readonly kind: 'known'; readonly value: number } | NotCalculable;

/** A figure that exists. */
export const known = (value: number): Figure => ({ kind: 'known', value });

/** A figure that does not. */
export const notCalculable = (reason: NotCalculable['reason'], sentence: string): NotCalculable => ({
  kind: 'not-calculable',
  reason,
  sentence,
});
