/** How often tests fail, and who or what stands out. */
import type { JSX } from 'preact';
import type { MetersPage } from '../../api/house.ts';
import { useHere } from '../here.ts';

export function FailedTests({ report }: { readonly report: MetersPage }): JSX.Element | null {
  const { words, format } = useHere();
  const clinic = report.errors[0]?.clinic;
  if (!clinic) return null;
  const share = (value: number): string => `${format.number(value * 100)} %`;
  const above = report.errors.flatMap(({ by, rates }) => {
    const outstanding = rates.filter((r) => r.isAboveClinic).map((r) => r.of);
    return outstanding.length > 0 ? [{ by, says: words.meters.errorsAbove[by](outstanding.join(', ')) }] : [];
  });
  return (
    <section>
      <h2>{words.meters.errors}</h2>
      <p>{words.meters.errorsOfAll(share(clinic.estimate), share(clinic.low), share(clinic.high))}</p>
      {above.length === 0 ? <p>{words.meters.errorsLevel}</p> : null}
      {above.map(({ by, says }) => (
        <p key={by} class="needs-you">
          {says}
        </p>
      ))}
    </section>
  );
}
