/** The few figures at the top of a person's page, and the critical values. Pure. */
import type { PersonPage } from '../../api/people.ts';
import type { Format } from '../format.ts';
import type { Words } from '../words.ts';

/** A figure with what it says. */
export interface Fact {
  readonly figure: string;
  readonly says: string;
}

/** So many critical values are named one by one. */
const NAMED = 3;

type MakeFact = (page: PersonPage, words: Words, format: Format) => Fact | undefined;

/** The last value and where it stood. */
export const lastFact: MakeFact = ({ report: { course } }, { people, terms }, format) => {
  const last = course.tests.at(-1);
  if (!last) return { figure: '–', says: people.facts.noLast };
  const { test, judgement } = last;
  return {
    figure: format.value(test.value, test.beyond),
    says: people.facts.last(terms.standing[judgement.standing], format.moment(test.time.at)),
  };
};

/** Time in range by the first rule set, as a range where times are bounded; with the days below, in and above. */
export const rangeFact: MakeFact = ({ report: { course } }, { people }, format) => {
  const [first] = course.timeInRange;
  if (first?.kind !== 'known') return undefined;
  const { bounds, days, rules } = first;
  const [low, high] = bounds.kind === 'known' ? [format.percent(bounds.low), format.percent(bounds.high)] : ['', ''];
  const whole = (n: number): string => format.number(n, 0);
  return {
    figure: low === high ? format.percent(first.fraction) : people.shareBetween(low, high),
    says: `${people.facts.range(rules.source.name)}; ${people.facts.days(whole(days.below), whole(days.in), whole(days.above))}`,
  };
};

/** The next planned test, or by how much it is overdue. */
export const nextFact: MakeFact = ({ report: { course } }, { people, terms }, format) => {
  const { nextDate, overdueDays } = course.plan;
  if (nextDate === undefined) return undefined;
  return {
    figure: format.date(nextDate),
    says: overdueDays > 0 ? people.facts.overdue(format.count(overdueDays, terms.days)) : people.facts.next,
  };
};

/** Critical values that count, then those that wait; newest first, with the advice to confirm. */
export function criticalLines(
  { report: { course, values, analyte } }: PersonPage,
  { people, terms }: Words,
  format: Format,
): string[] {
  const clear = course.critical.map(({ test, judgement }) =>
    people.critical(
      `${analyte} ${format.value(test.value, test.beyond)}`,
      format.moment(test.time.at),
      terms.standing[judgement.standing],
    ),
  );
  const waiting = values.flatMap((row) =>
    row.status === 'held' && row.time && (row.standing === 'critical-low' || row.standing === 'critical-high')
      ? [people.critical(format.values(row.values), format.moment(row.time.at), terms.standing[row.standing])]
      : [],
  );
  const all = [...clear, ...waiting];
  return all.length <= NAMED ? all : [...all.slice(0, NAMED), format.count(all.length - NAMED, people.criticalMore)];
}
