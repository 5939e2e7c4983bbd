/** Who is expected on a day: the list by which readings of a shared meter find their person; a table can be taken in. */
import type { JSX } from 'preact';
import { useState } from 'preact/hooks';
import type { RowFate } from '../../../record/imports/table.ts';
import type { AppointmentDay } from '../../api/people.ts';
import { post } from '../call.ts';
import { useHere, useMay } from '../here.ts';
import { useData } from '../live.tsx';
import { Field, useAct } from '../parts/act.tsx';
import { Show } from '../parts/loaded.tsx';
import { useSay } from '../parts/said.tsx';
import { Table } from '../parts/table.tsx';
import { addressOf, goTo } from '../router.ts';

export function AppointmentsPage({ day: chosen }: { readonly day: string | undefined }): JSX.Element {
  const { words, format } = useHere();
  const { people: w } = words;
  const day = chosen ?? format.isoDay(Date.now());
  const loaded = useData<AppointmentDay>(`/api/appointments?day=${encodeURIComponent(day)}`);
  return (
    <>
      <p class="no-print">
        <a href={addressOf('people')}>{w.back}</a>
      </p>
      <h1>{w.dayHeading(format.date(day))}</h1>
      <div class="no-print">
        <Field
          label={w.day}
          type="date"
          value={day}
          onInput={(value) => value && goTo('people', APPOINTMENTS, value)}
        />
      </div>
      <Show loaded={loaded}>{(list) => <Day list={list} />}</Show>
      <Import />
    </>
  );
}

/** What stands in the address in the place of a person's id. */
export const APPOINTMENTS = '-appointments';

function Day({ list }: { readonly list: AppointmentDay }): JSX.Element {
  const { words, format } = useHere();
  const { people: w } = words;
  const say = useSay();
  const { run, problem } = useAct();
  const mayWork = useMay('work');
  const takeOff = (id: string, at: number, who: string): Promise<boolean> =>
    run(async () => {
      const entry = { at: new Date(at).toISOString(), patientId: id };
      await post('/api/appointments/remove', entry);
      say(w.takenOff(who), () => post('/api/appointments', entry));
    });
  if (list.rows.length === 0) return <p>{w.nobodyExpected}</p>;
  return (
    <>
      <Table
        name={w.appointments}
        heads={[{ says: w.appointmentTime }, { says: w.columns.person }, { says: ' ' }]}
        rows={list.rows.map((row) => ({
          key: `${row.at} ${row.id}`,
          cells: [
            format.time(row.at),
            <a key="person" href={addressOf('people', row.id)}>
              {format.person(row)}
            </a>,
            mayWork ? (
              <button
                key="off"
                type="button"
                class="quiet no-print"
                onClick={() => takeOff(row.id, row.at, format.person(row))}
              >
                {w.takeOff}
              </button>
            ) : (
              ''
            ),
          ],
        }))}
      />
      {problem}
    </>
  );
}

/** Takes a table in: first what would become of each row is shown, then it is done. */
function Import(): JSX.Element | null {
  const { words, format } = useHere();
  const { people: w } = words;
  const say = useSay();
  const { run, isBusy, problem } = useAct();
  const [csv, setCsv] = useState<string>();
  const [fates, setFates] = useState<readonly RowFate[]>();
  if (!useMay('work')) return null;
  const send = async (text: string, isTrial: boolean): Promise<readonly RowFate[]> => {
    const { rows } = await post<{ rows: readonly RowFate[] }>('/api/appointments/import', { csv: text, isTrial });
    return rows;
  };
  const choose = (file: File | undefined): Promise<boolean> =>
    run(async () => {
      setFates(undefined);
      const text = await file?.text();
      setCsv(text);
      if (text !== undefined) setFates(await send(text, true));
    });
  const take = (): Promise<boolean> =>
    run(async () => {
      const rows = await send(csv ?? '', false);
      say(w.imported(format.count(rows.filter((r) => r.fate === 'added').length, w.appointmentCount)));
      setFates(undefined);
      setCsv(undefined);
    });
  const isWrong = fates?.some((r) => r.fate === 'wrong') ?? false;
  return (
    <section class="no-print">
      <h2>{w.importHeading}</h2>
      <p class="mid">{w.importHint}</p>
      <label class="field">
        <span>{w.importFile}</span>
        <input type="file" accept=".csv,text/csv" onChange={(event) => choose(event.currentTarget.files?.[0])} />
      </label>
      {problem}
      {fates ? (
        <>
          <Table
            name={w.importHeading}
            heads={[
              { says: w.importColumns.line, isNumber: true },
              { says: w.importColumns.who },
              { says: w.importColumns.fate },
            ]}
            rows={fates.map((r) => ({ key: String(r.line), cells: [r.line, r.subject, w.importFate[r.fate]] }))}
          />
          {isWrong ? (
            <p class="needs-you">{w.importWrong}</p>
          ) : (
            <p class="actions">
              <button type="button" class="first" aria-disabled={isBusy} onClick={take}>
                {w.importDo}
              </button>
            </p>
          )}
        </>
      ) : null}
    </section>
  );
}
