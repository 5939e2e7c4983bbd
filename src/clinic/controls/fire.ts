/** Holds one rule to the values that stand in question. Numbers in, a firing or nothing out. */
import type { ControlRule, ErrorKind, RuleScope } from './rule-set.ts';

/** One control value as rules see it. */
export interface ScoredValue {
  readonly id: string;
  /** Name of the level. */
  readonly level: string;
  /** Standard deviations from the mean, of the number shown. */
  readonly z: number;
  /** Set where the true value lies beyond the number shown: then beyond every limit on that side. */
  readonly beyond?: '<' | '>';
}

/** A rule that speaks, with the values that made it, oldest first; the newest is the one that was judged. */
export interface Firing {
  /** As the trade writes it, such as `2-2s`; or `outside-all`: the value fits none of the levels it could be. */
  readonly rule: string;
  readonly outcome: 'warn' | 'reject';
  readonly error: ErrorKind;
  readonly values: readonly ScoredValue[];
  /** What happened, for a nurse. */
  readonly sentence: string;
}

/** The values in question, each list oldest first and ending with the value that is judged. */
export type Scopes = Readonly<Record<RuleScope, readonly ScoredValue[]>>;

/** Whether the rule speaks for the newest value; the values that made it speak, or undefined. */
export function fire(rule: ControlRule, scopes: Scopes): readonly ScoredValue[] | undefined {
  const newest = scopes.run.at(-1);
  if (!newest || Math.abs(reachOf(newest)) <= rule.beyond) return undefined;
  const side = Math.sign(reachOf(newest));
  if (rule.kind === 'opposite') {
    const other = scopes.run.find((v) => -side * reachOf(v) > rule.beyond);
    return other && [other, newest];
  }
  for (const scope of rule.scopes) {
    const there = scopes[scope].slice(-rule.of).filter((v) => side * reachOf(v) > rule.beyond);
    if (there.length >= rule.count) return there;
  }
  return undefined;
}

/** How far from the mean a value counts as lying: without end where it lies off the measuring range. */
const reachOf = ({ z, beyond }: ScoredValue): number =>
  beyond === undefined ? z : beyond === '>' ? Number.POSITIVE_INFINITY : Number.NEGATIVE_INFINITY;
