/** The smaller parts of a person's page: reassessment, steadiness and trend, failed tests. */
import type { JSX } from 'preact';
import type { Course } from '../../../clinic/course/course-of.ts';
import { useHere } from '../here.ts';
import { criterionWords } from '../month/criterion-words.ts';

export function Reassessment({ course: { reassessment: r } }: { readonly course: Course }): JSX.Element {
  const { words, format } = useHere();
  const { people: w } = words;
  const { name } = r.rules.source;
  const met = [
    ...r.criteria.flatMap(({ criterion: { beyond, limit }, counted, isMet }) =>
      isMet ? [criterionWords({ kind: 'values', count: counted.length, beyond, limit }, words, format)] : [],
    ),
    ...(r.timeInRange.isMet ? [criterionWords({ kind: 'time-in-range' }, words, format)] : []),
  ];
  return (
    <section>
      <h2>{w.reassess}</h2>
      {r.isDue ? (
        <p class="needs-you">
          {w.reassessDue(name)} {met.join('; ')}.
        </p>
      ) : (
        <p>{w.reassessNot(name)}</p>
      )}
    </section>
  );
}

export function Steady({ course: { variability: v, trend } }: { readonly course: Course }): JSX.Element {
  const { words, format } = useHere();
  const { people: w } = words;
  const shown = (figure: typeof v.mean, says: (value: number) => string): string =>
    figure.kind === 'known' ? says(figure.value) : w.notKnown;
  const perWeek = trend.kind === 'known' ? format.number(Math.abs(trend.perWeek), 2) : '';
  const rows = [
    [w.mean, shown(v.mean, (value) => format.number(value, 2))],
    [w.sd, shown(v.sd, (value) => format.number(value, 2))],
    [w.cv, shown(v.cv, (value) => format.percent(value))],
  ];
  return (
    <section>
      <h2>{w.steady}</h2>
      <div class="facts">
        {rows.map(([says, value]) => (
          <div key={says}>
            <b>{value}</b>
            <span>{says}</span>
          </div>
        ))}
      </div>
      <p>
        {trend.kind !== 'known'
          ? w.trend.unknown
          : trend.direction === 'none-shown'
            ? w.trend['none-shown']
            : w.trend[trend.direction](perWeek)}
      </p>
    </section>
  );
}

export function Failed({ course: { errors } }: { readonly course: Course }): JSX.Element {
  const { words, format } = useHere();
  const { people: w, terms } = words;
  return (
    <section>
      <h2>{w.failed}</h2>
      {errors.errors === 0 ? (
        <p>{w.failedNone}</p>
      ) : (
        <>
          <p>{w.failedOf(format.number(errors.errors, 0), format.count(errors.tests, terms.tests))}</p>
          {errors.againstClinic?.isUnusual || errors.clusters.length > 0 ? (
            <p class="needs-you">{w.failedMore}</p>
          ) : null}
          <p>{w.usual}</p>
          <ul>
            {w.causes.map((cause) => (
              <li key={cause}>{cause}</li>
            ))}
          </ul>
        </>
      )}
    </section>
  );
}
