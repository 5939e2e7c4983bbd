/**
 * Mutants that no test can tell from the code, each with the reason. The proof leaves them in its figures, tells how many
 * they are, and fails where one of them is killed or is not made any more: then the reason was wrong, or is out of date.
 */

/** One or more mutants of a file, by the text that was changed and what it was changed into. */
export interface Explained {
  readonly file: string;
  /** The text before, without line breaks, and after. */
  readonly changes: readonly (readonly [before: string, after: string])[];
  readonly why: string;
}

/** By file, in the order of the house. */
export const EXPLAINED: readonly Explained[] = [];
