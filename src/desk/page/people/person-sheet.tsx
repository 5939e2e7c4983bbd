/** One person: how they stand, the course, every value, and what is entered for them. Never a dose, never a diagnosis. */
import type { JSX } from 'preact';
import { useState } from 'preact/hooks';
import type { PersonPage } from '../../api/people.ts';
import { useHere, useMay } from '../here.ts';
import { useData } from '../live.tsx';
import { incidentWords, whenWords } from '../meters/incident-words.ts';
import { Show } from '../parts/loaded.tsx';
import { Table } from '../parts/table.tsx';
import { addressOf } from '../router.ts';
import { CourseChart } from './course-chart.tsx';
import { Appointments, LabValues, Lends, Targets } from './person-entries.tsx';
import { criticalLines, lastFact, nextFact, rangeFact } from './person-facts.ts';
import { PersonForm } from './person-form.tsx';
import { Failed, Reassessment, Steady } from './person-parts.tsx';
import { Values } from './person-values.tsx';

export function PersonSheet({ id, isShort }: { readonly id: string; readonly isShort: boolean }): JSX.Element {
  const loaded = useData<PersonPage>(`/api/people/${encodeURIComponent(id)}`);
  return <Show loaded={loaded}>{(page) => <Sheet page={page} isShort={isShort} />}</Show>;
}

function Sheet({ page, isShort }: { readonly page: PersonPage; readonly isShort: boolean }): JSX.Element {
  const { words, format } = useHere();
  const { people: w } = words;
  const { report } = page;
  const { patient, course, incidents } = report;
  const facts = [lastFact, rangeFact, nextFact].flatMap((fact) => fact(page, words, format) ?? []);
  const { kept } = course.plan;
  const name = patient.name ?? patient.id;
  return (
    <article class={isShort ? 'sheet' : undefined}>
      {isShort ? (
        <h2>
          <a href={addressOf('people', patient.id)}>{name}</a>
        </h2>
      ) : (
        <h1>{name}</h1>
      )}
      <p class="mid">{subtitle()}</p>
      {criticalLines(page, words, format).map((says) => (
        <p key={says} class="needs-you">
          {says}
        </p>
      ))}
      <div class="facts">
        {facts.map(({ figure, says }) => (
          <div key={says}>
            <b>{figure}</b>
            <span>{says}</span>
          </div>
        ))}
        {kept.planned > 0 ? (
          <div>
            <b>
              {kept.done} / {kept.planned}
            </b>
            <span>{w.facts.kept}</span>
          </div>
        ) : null}
      </div>
      {isShort ? null : <Print page={page} />}
      {isShort ? null : <h2>{w.course}</h2>}
      <CourseChart page={page} {...(isShort ? { height: 300 } : {})} />
      {isShort ? null : (
        <>
          <p class="mid">{w.chartAbout}</p>
          {incidents.length === 0 ? null : (
            <Table
              name={w.clocks}
              heads={[
                { says: w.notch, isNumber: true },
                { says: words.meters.incidentColumns.when },
                { says: w.clocks },
              ]}
              rows={incidents.map((incident, i) => ({
                key: String(i),
                cells: [i + 1, whenWords(incident, words, format), incidentWords(incident, words, format)],
              }))}
            />
          )}
          <Values page={page} />
          <Reassessment course={course} />
          <Steady course={course} />
          <Failed course={course} />
          <Targets page={page} />
          <Lends page={page} />
          <LabValues page={page} />
          <Appointments page={page} />
          <Change page={page} />
        </>
      )}
    </article>
  );

  function subtitle(): string {
    const { birthYear, reason, planDays, left } = patient;
    const { target } = course;
    return [
      patient.name === undefined ? '' : patient.id,
      birthYear === undefined ? '' : w.born(String(birthYear)),
      reason ?? '',
      target ? w.target(w.rangeWords(format.number(target.low), format.number(target.high))) : w.noTarget,
      planDays === undefined ? '' : w.plan(format.count(planDays, words.terms.days)),
      report.meters.length === 0 ? '' : w.meter(report.meters.join(', ')),
      left === undefined ? '' : w.left(format.day(left)),
    ]
      .filter(Boolean)
      .join(' · ');
  }
}

function Print({ page: { report } }: { readonly page: PersonPage }): JSX.Element {
  const { words, language } = useHere();
  const { people: w } = words;
  return (
    <p class="no-print">
      {w.print}:{' '}
      {report.meters.map((meter) => (
        <span key={meter}>
          <a href={`/print/visit/${encodeURIComponent(meter)}?lang=${language}`} target="_blank" rel="noreferrer">
            {w.printVisit(meter)}
          </a>
          {' · '}
        </span>
      ))}
      <a href={`/print/person/${encodeURIComponent(report.patient.id)}`} target="_blank" rel="noreferrer">
        {w.printPerson}
      </a>
    </p>
  );
}

function Change({ page }: { readonly page: PersonPage }): JSX.Element | null {
  const { words, format } = useHere();
  const [isOpen, setIsOpen] = useState(false);
  const { patient } = page.report;
  if (!useMay('work')) return null;
  if (!isOpen)
    return (
      <p class="no-print actions">
        <button type="button" onClick={() => setIsOpen(true)}>
          {words.people.change}
        </button>
      </p>
    );
  const known = {
    id: patient.id,
    name: patient.name ?? '',
    birthYear: patient.birthYear === undefined ? '' : String(patient.birthYear),
    reason: patient.reason ?? '',
    planDays: patient.planDays === undefined ? '' : String(patient.planDays),
    since: patient.since === undefined ? '' : format.isoDay(patient.since),
    left: patient.left === undefined ? '' : format.isoDay(patient.left),
    notes: page.notes ?? '',
  };
  return <PersonForm known={known} onDone={() => setIsOpen(false)} />;
}
