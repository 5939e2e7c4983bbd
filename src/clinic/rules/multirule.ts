/**
 * The control rules, as data: which counts on which side of the mean reject a run. "Beyond" is strict: a value on the
 * limit does not count. Choose the set by the number of levels that the clinic measures.
 */
import type { ControlRule, RuleSet } from '../controls/rule-set.ts';

/** `count` in a row on the same side. */
const inARow = (name: string, count: number, beyond: number): ControlRule => ({
  name,
  kind: 'same-side',
  count,
  of: count,
  beyond,
  scopes: ['material', 'all'],
  outcome: 'reject',
  error: 'systematic',
});

/** One control beyond 2 s: look at the others before anything is released. */
const RULE_1_2S: ControlRule = { ...inARow('1-2s', 1, 2), outcome: 'warn', error: 'either' };
/** Mostly random error; a large shift does it too. */
const RULE_1_3S: ControlRule = { ...inARow('1-3s', 1, 3), error: 'either' };
const RULE_R_4S: ControlRule = { name: 'R-4s', kind: 'opposite', beyond: 2, outcome: 'reject', error: 'random' };
const RULE_2_OF_3_2S: ControlRule = {
  name: '2of3-2s',
  kind: 'same-side',
  count: 2,
  of: 3,
  beyond: 2,
  scopes: ['material', 'run'],
  outcome: 'reject',
  error: 'systematic',
};

/** For two levels. */
export const MULTIRULE: RuleSet = {
  source: {
    name: 'Westgard multirule',
    edition: '1981',
    citation: 'Clin Chem 1981;27:493, by way of PMC3909142 table 1',
  },
  rules: [RULE_1_2S, RULE_1_3S, inARow('2-2s', 2, 2), RULE_R_4S, inARow('4-1s', 4, 1), inARow('10-x', 10, 0)],
};

const threeLevels = (last: ControlRule): RuleSet => ({
  source: {
    name: `Westgard multirule for three levels, with ${last.name}`,
    edition: 'as of 2025',
    citation: 'westgard.com multirule page and worksheet; which values 2of3-2s looks at from memory',
  },
  rules: [RULE_1_2S, RULE_1_3S, RULE_2_OF_3_2S, RULE_R_4S, inARow('3-1s', 3, 1), last],
});

/** For three levels, with six in a row on one side of the mean: two runs. */
export const MULTIRULE_THREE_LEVELS: RuleSet = threeLevels(inARow('6-x', 6, 0));
/** For three levels, with nine in a row on one side of the mean: three runs. */
export const MULTIRULE_THREE_LEVELS_LONG: RuleSet = threeLevels(inARow('9-x', 9, 0));
