/**
 * Whether a person's anticoagulation is to be looked at again: each criterion with the tests that were counted for it, so
 * that a reader can see why. It asks for a look, it is not a verdict.
 */
import type { Instant } from '../../core/instant.ts';
import type { LocalDate } from '../facts.ts';
import type { ReassessmentCriterion, ReassessmentRules } from '../rules/reassessment-rules.ts';
import { type DatedPoint, lastDays, within } from './dated-point.ts';
import type { TimeInRangeOutcome } from './time-in-range.ts';

export interface CriterionResult {
  readonly criterion: ReassessmentCriterion;
  /** Tests beyond the limit, oldest first. */
  readonly counted: readonly Pick<DatedPoint, 'id' | 'date' | 'value' | 'beyond'>[];
  readonly isMet: boolean;
}

export interface Reassessment {
  readonly rules: ReassessmentRules;
  /** Tests looked at: those of the window. */
  readonly tests: number;
  readonly criteria: readonly CriterionResult[];
  readonly timeInRange: {
    /** Over the window. */
    readonly figure: TimeInRangeOutcome;
    /** False too where there is no figure. */
    readonly isMet: boolean;
  };
  /** True where any criterion is met. */
  readonly isDue: boolean;
}

/** Looks at the criteria as of now. `figure` is the time in range over the same window. */
export function reassess(
  tests: readonly DatedPoint[],
  figure: TimeInRangeOutcome,
  rules: ReassessmentRules,
  now: Instant,
  localDate: LocalDate,
): Reassessment {
  const looked = within(tests, lastDays(rules.windowDays, now, localDate));
  const criteria = rules.criteria.map((criterion): CriterionResult => {
    const counted = looked
      .filter((test) => isBeyond(test, criterion))
      .map(({ id, date, value, beyond }) => ({ id, date, value, ...(beyond && { beyond }) }));
    return { criterion, counted, isMet: counted.length >= criterion.atLeast };
  });
  const isLow = figure.kind === 'known' && figure.fraction < rules.timeInRangeUnder;
  return {
    rules,
    tests: looked.length,
    criteria,
    timeInRange: { figure, isMet: isLow },
    isDue: isLow || criteria.some(({ isMet }) => isMet),
  };
}

/** Surely beyond the limit: `>8.0` is over 8 though its number is not, `>4.5` is not known to be over 5. */
function isBeyond({ value, beyond }: DatedPoint, { beyond: side, limit }: ReassessmentCriterion): boolean {
  if (side === 'above') return beyond === '>' ? value >= limit : beyond === undefined && value > limit;
  return beyond === '<' ? value <= limit : beyond === undefined && value < limit;
}
