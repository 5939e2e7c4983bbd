/** What is entered for a person: targets, lent meters, laboratory values, appointments. Each can be taken back. */
import type { ComponentChildren, JSX } from 'preact';
import { useState } from 'preact/hooks';
import type { NewLabValue, PersonPage } from '../../api/people.ts';
import { post, remove } from '../call.ts';
import { useHere, useMay } from '../here.ts';
import { Field, Form, useAct } from '../parts/act.tsx';
import { useSay } from '../parts/said.tsx';
import { Table } from '../parts/table.tsx';
import { addressOf } from '../router.ts';

interface Props {
  readonly page: PersonPage;
}

const pathOf = ({ report }: PersonPage): string => `/api/people/${encodeURIComponent(report.patient.id)}`;

export function Targets({ page }: Props): JSX.Element {
  const { words, format } = useHere();
  const { people: w } = words;
  const { targets } = page.report;
  const range = (t: { readonly low: string; readonly high: string }): string =>
    w.rangeWords(format.decimal(t.low), format.decimal(t.high));
  return (
    <section>
      <h2>{w.targets}</h2>
      {targets.length === 0 ? (
        <p>{w.noTarget}</p>
      ) : (
        <Table
          name={w.targets}
          heads={[
            { says: w.targetColumns.range },
            { says: w.targetColumns.from },
            { says: w.targetColumns.by },
            { says: ' ' },
          ]}
          rows={targets.map((t, i) => ({
            key: String(page.targetNos[i]),
            cells: [
              range(t),
              t.from === 0 ? w.always : format.day(t.from),
              t.setBy,
              <TakeBack key="undo" path={`${pathOf(page)}/targets/${page.targetNos[i]}`} />,
            ],
          }))}
        />
      )}
      <Entry
        open={w.setTarget}
        fields={[
          { key: 'low', label: w.low, isRequired: true },
          { key: 'high', label: w.high, isRequired: true },
          { key: 'from', label: w.from },
        ]}
        send={async ({ low = '', high = '', from }) => {
          const { no } = await post<{ no: number }>(`${pathOf(page)}/targets`, {
            low,
            high,
            ...(from ? { from } : {}),
          });
          return { says: w.targetSet(range({ low, high })), undo: () => remove(`${pathOf(page)}/targets/${no}`) };
        }}
      />
    </section>
  );
}

export function Lends({ page }: Props): JSX.Element {
  const { words, format } = useHere();
  const { people: w } = words;
  const { id } = page.report.patient;
  return (
    <section>
      <h2>{w.lends}</h2>
      {page.lends.length === 0 ? (
        <p>{w.noLends}</p>
      ) : (
        <Table
          name={w.lends}
          heads={[
            { says: w.lendColumns.meter },
            { says: w.lendColumns.from },
            { says: w.lendColumns.to },
            { says: w.lendColumns.by },
            { says: ' ' },
          ]}
          rows={page.lends.map((lend) => ({
            key: String(lend.no),
            cells: [
              <a key="meter" href={addressOf('meters', lend.meterId)}>
                {lend.meterId}
              </a>,
              format.moment(lend.from),
              lend.to === undefined ? <Return key="return" meterId={lend.meterId} /> : format.moment(lend.to),
              lend.by,
              <TakeBack key="undo" path={`/api/lends/${lend.no}`} />,
            ],
          }))}
        />
      )}
      <Entry
        open={w.lend}
        fields={[
          { key: 'meterId', label: w.lendMeter, isRequired: true },
          { key: 'from', label: w.lendFrom },
        ]}
        send={async ({ meterId = '', from }) => {
          const { no } = await post<{ no: number }>('/api/lends', {
            meterId,
            patientId: id,
            ...(from ? { from } : {}),
          });
          return { says: w.lent(meterId), undo: () => remove(`/api/lends/${no}`) };
        }}
      />
    </section>
  );
}

function Return({ meterId }: { readonly meterId: string }): JSX.Element {
  const { words } = useHere();
  const say = useSay();
  const { run, isBusy, problem } = useAct();
  const mayWork = useMay('work');
  const takeBack = (): Promise<boolean> =>
    run(async () => {
      await post('/api/lends/take-back', { meterId });
      say(words.people.takenBack(meterId));
    });
  return (
    <>
      {words.people.still}{' '}
      {mayWork ? (
        <button type="button" class="no-print" aria-disabled={isBusy} onClick={takeBack}>
          {words.people.takeBack}
        </button>
      ) : null}
      {problem}
    </>
  );
}

export function LabValues({ page }: Props): JSX.Element {
  const { words, format } = useHere();
  const { people: w } = words;
  return (
    <section>
      <h2>{w.lab}</h2>
      {page.lab.length === 0 ? (
        <p>{w.noLab}</p>
      ) : (
        <Table
          name={w.lab}
          heads={[
            { says: w.labColumns.when },
            { says: w.labColumns.value },
            { says: w.labColumns.laboratory },
            { says: ' ' },
          ]}
          rows={page.lab.map((v) => ({
            key: String(v.no),
            cells: [
              format.moment(v.at),
              `${v.analyte} ${format.decimal(v.value)}`,
              v.laboratory,
              <TakeBack key="undo" path={`/api/lab/${v.no}`} />,
            ],
          }))}
        />
      )}
      <Entry
        open={w.enterLab}
        fields={[
          { key: 'at', label: w.labAt, isRequired: true },
          { key: 'value', label: w.labValue, isRequired: true },
          { key: 'laboratory', label: w.labWhere },
        ]}
        send={async ({ at = '', value = '', laboratory }) => {
          const body: NewLabValue = { at, value, ...(laboratory ? { laboratory } : {}) };
          const { no } = await post<{ no?: number }>(`${pathOf(page)}/lab`, body);
          return { says: w.labEntered, ...(no === undefined ? {} : { undo: () => remove(`/api/lab/${no}`) }) };
        }}
      />
    </section>
  );
}

export function Appointments({ page }: Props): JSX.Element {
  const { words, format } = useHere();
  const { people: w } = words;
  const { id } = page.report.patient;
  return (
    <section>
      <h2>{w.appointments}</h2>
      {page.appointments.length === 0 ? (
        <p>{w.noAppointments}</p>
      ) : (
        <ul>
          {page.appointments.map((at) => (
            <li key={at}>{format.moment(at)}</li>
          ))}
        </ul>
      )}
      <Entry
        open={w.addAppointment}
        fields={[{ key: 'at', label: w.appointmentAt, isRequired: true }]}
        send={async ({ at = '' }) => {
          await post('/api/appointments', { at, patientId: id });
          return { says: w.appointmentAdded, undo: () => post('/api/appointments/remove', { at, patientId: id }) };
        }}
      />
    </section>
  );
}

/** What was done, and how it is taken back. */
interface Done {
  readonly says: string;
  readonly undo?: () => Promise<unknown>;
}

/** A button that opens a short form. */
function Entry({
  open,
  fields,
  send,
}: {
  readonly open: string;
  readonly fields: readonly { readonly key: string; readonly label: string; readonly isRequired?: boolean }[];
  readonly send: (values: Readonly<Record<string, string>>) => Promise<Done>;
}): JSX.Element | null {
  const { words } = useHere();
  const say = useSay();
  const [values, setValues] = useState<Readonly<Record<string, string>>>();
  if (!useMay('work')) return null;
  if (!values)
    return (
      <p class="no-print actions">
        <button type="button" onClick={() => setValues({})}>
          {open}
        </button>
      </p>
    );
  const onSend = async (): Promise<void> => {
    const { says, undo } = await send(
      Object.fromEntries(Object.entries(values).map(([key, text]) => [key, text.trim()])),
    );
    say(says, undo);
    setValues(undefined);
  };
  const rows: ComponentChildren = fields.map(({ key, label, isRequired = false }) => (
    <Field
      key={key}
      label={label}
      isRequired={isRequired}
      value={values[key] ?? ''}
      onInput={(text) => setValues({ ...values, [key]: text })}
    />
  ));
  return (
    <Form onSend={onSend} send={words.shell.save} onCancel={() => setValues(undefined)} cancel={words.shell.cancel}>
      {rows}
    </Form>
  );
}

/** Takes an entry back as if it had never been. */
function TakeBack({ path }: { readonly path: string }): JSX.Element | null {
  const { words } = useHere();
  const say = useSay();
  const { run, isBusy, problem } = useAct();
  if (!useMay('work')) return null;
  const take = (): Promise<boolean> =>
    run(async () => {
      await remove(path);
      say(words.people.taken);
    });
  return (
    <>
      <button type="button" class="quiet no-print" aria-disabled={isBusy} onClick={take}>
        {words.people.undo}
      </button>
      {problem}
    </>
  );
}
