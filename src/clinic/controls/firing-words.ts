/** Says in one plain sentence what a control rule found. */
import type { ScoredValue } from './fire.ts';
import type { ControlRule, ErrorKind } from './rule-set.ts';

const MEANS: Readonly<Record<ErrorKind, string>> = {
  random: 'this points to a random error: a single test that went wrong, such as a poor drop or a bubble',
  systematic: 'this points to a systematic error: something has shifted, such as the strips, the control or the meter',
  either: 'a random error or a large shift',
};

/** The sentence for a rule and the values that made it speak. */
export function firingSentence(rule: ControlRule, values: readonly ScoredValue[]): string {
  const newest = values.at(-1);
  const side = newest && (newest.beyond ? newest.beyond === '>' : newest.z > 0) ? 'above' : 'below';
  const how = values.map((v) => `level ${v.level} ${place(v)}`).join(', ');
  const what = rule.kind === 'opposite' ? opposite(rule.beyond) : sameSide(values.length, rule.beyond, side);
  const then =
    rule.outcome === 'warn' ? 'a warning: look at the other controls before results are released' : MEANS[rule.error];
  return `${what} (${how}; rule ${rule.name}): ${then}.`;
}

const opposite = (beyond: number): string =>
  `In one run one control lies more than ${beyond} s above and another more than ${beyond} s below`;

function sameSide(count: number, beyond: number, side: string): string {
  const who = count === 1 ? 'A control lies' : `${count} controls lie`;
  return beyond === 0
    ? `${who} ${side} the mean, one after the other`
    : `${who} more than ${beyond} s ${side} the mean`;
}

/** Standard deviations with their sign, or that the value lay off the measuring range. */
function place({ z, beyond }: ScoredValue): string {
  if (beyond !== undefined) return `${beyond === '>' ? 'above' : 'below'} the measuring range`;
  return `at ${z < 0 ? '−' : '+'}${Math.abs(z).toFixed(2)} s`;
}
