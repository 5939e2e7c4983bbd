/** Every value of a person, newest first: the same as the picture, in words. */
import type { JSX } from 'preact';
import { useState } from 'preact/hooks';
import type { ValueRow } from '../../../reports/gather-patient.ts';
import type { PersonPage } from '../../api/people.ts';
import { post } from '../call.ts';
import { useHere, useMay } from '../here.ts';
import { Field, Form } from '../parts/act.tsx';
import { useSay } from '../parts/said.tsx';
import { Table } from '../parts/table.tsx';
import { addressOf } from '../router.ts';
import { standingMark } from './standing-mark.ts';
import { noteWords, timeWords } from './value-words.ts';

const STEP = 30;

export function Values({ page }: { readonly page: PersonPage }): JSX.Element {
  const { words, format } = useHere();
  const { people: w, terms } = words;
  const [limit, setLimit] = useState(STEP);
  const [striking, setStriking] = useState<string>();
  const mayWork = useMay('work');
  const fresh = new Set(page.newReadings);
  const { values } = page.report;
  const { valueColumns: columns } = w;
  const canStrike = (row: ValueRow): boolean => mayWork && row.status !== 'void';
  return (
    <section>
      <h2>{w.values}</h2>
      <Table
        name={w.values}
        heads={[
          { says: columns.when },
          { says: columns.value },
          { says: columns.standing },
          { says: columns.note },
          { says: columns.meter },
          { says: ' ' },
        ]}
        rows={values.slice(0, limit).map((row) => ({
          key: row.id,
          cells: [
            timeWords(row, words, format),
            <span key="value">
              {format.values(row.values)} {fresh.has(row.id) ? <b class="needs-you">{w.isNew}</b> : null}
            </span>,
            row.status === 'void' || !row.standing ? (
              ''
            ) : (
              <span key="standing">
                <span aria-hidden="true">{standingMark(row.standing)}</span> {terms.standing[row.standing]}
              </span>
            ),
            noteWords(row, page.holds[row.id] ?? [], words),
            <a key="meter" href={addressOf('meters', row.meterId)}>
              {row.meterId}
            </a>,
            canStrike(row) ? (
              striking === row.id ? (
                <StrikeOut key="strike" id={row.id} onDone={() => setStriking(undefined)} />
              ) : (
                <button key="strike" type="button" class="quiet no-print" onClick={() => setStriking(row.id)}>
                  {w.strikeOut}
                </button>
              )
            ) : (
              ''
            ),
          ],
        }))}
      />
      {values.length > limit ? (
        <p class="no-print actions">
          <button type="button" onClick={() => setLimit((n) => n + 10 * STEP)}>
            {w.more}
          </button>
        </p>
      ) : null}
    </section>
  );
}

function StrikeOut({ id, onDone }: { readonly id: string; readonly onDone: () => void }): JSX.Element {
  const { words } = useHere();
  const { people: w } = words;
  const say = useSay();
  const [reason, setReason] = useState('');
  const send = async (): Promise<void> => {
    await post('/api/readings/strike-out', { readings: [id], reason });
    say(w.struckOut, () => post('/api/readings/undo', { readings: [id], reason: words.shell.undo }));
    onDone();
  };
  return (
    <Form onSend={send} send={w.strikeOut} onCancel={onDone} cancel={words.shell.cancel}>
      <Field label={w.strikeReason} isRequired value={reason} onInput={setReason} />
    </Form>
  );
}
