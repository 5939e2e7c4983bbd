/** What a set of control rules looks like. The sets themselves are data in `clinic/rules/`. */
import type { Source } from '../facts.ts';

/**
 * Which values a rule looks at, the newest last: those of one control material; those of all levels of a chart in the
 * order in which they were measured; or those of the run alone, all levels.
 */
export type RuleScope = 'material' | 'all' | 'run';

/** What kind of error a rule speaks for. */
export type ErrorKind = 'random' | 'systematic' | 'either';

interface AnyRule {
  /** As the trade writes it: `1-3s`. */
  readonly name: string;
  readonly outcome: 'warn' | 'reject';
  readonly error: ErrorKind;
}

/**
 * `same-side`: the newest value and, with it, at least `count` of the last `of` values lie strictly beyond `beyond`
 * standard deviations on the same side of the mean. `opposite`: the newest value lies strictly beyond on one side, and
 * another of its run strictly beyond on the other.
 */
export type ControlRule =
  | (AnyRule & {
      readonly kind: 'same-side';
      readonly count: number;
      readonly of: number;
      readonly beyond: number;
      readonly scopes: readonly RuleScope[];
    })
  | (AnyRule & { readonly kind: 'opposite'; readonly beyond: number });

/** Rules that are looked at together, in the order in which they are told. */
export interface RuleSet {
  readonly source: Source;
  readonly rules: readonly ControlRule[];
}
