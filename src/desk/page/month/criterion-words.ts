/** A criterion of the reassessment in words. Pure. */
import type { MetCriterion } from '../../../reports/month-people.ts';
import type { Format } from '../format.ts';
import type { Words } from '../words.ts';

export function criterionWords(criterion: MetCriterion, { month }: Words, format: Format): string {
  if (criterion.kind === 'time-in-range') return month.lowTime;
  const values = format.count(criterion.count, month.values);
  return month[criterion.beyond](values, format.decimal(String(criterion.limit)));
}
