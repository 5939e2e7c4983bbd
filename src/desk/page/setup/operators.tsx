/** Who may use the desk: adding somebody, changing role and passphrase, retiring and taking back in. */
import type { JSX } from 'preact';
import { useState } from 'preact/hooks';
import type { OperatorRow } from '../../api/house.ts';
import { put } from '../call.ts';
import { useHere } from '../here.ts';
import { useData } from '../live.tsx';
import { useAct } from '../parts/act.tsx';
import { Show } from '../parts/loaded.tsx';
import { useSay } from '../parts/said.tsx';
import { Table } from '../parts/table.tsx';
import { OperatorForm } from './operator-form.tsx';

/** What the form is open for: a new operator, one that is there, or nothing. */
type Open = 'new' | OperatorRow | undefined;

export function Operators(): JSX.Element {
  const { words, state, format } = useHere();
  const { operators: w } = words.setup;
  const loaded = useData<readonly OperatorRow[]>('/api/operators');
  const say = useSay();
  const { run, isBusy, problem } = useAct();
  const [open, setOpen] = useState<Open>();
  const done = (sentence?: string): void => {
    setOpen(undefined);
    if (sentence === undefined) return;
    loaded.again();
    say(sentence);
  };
  const retire = ({ name }: OperatorRow, isRetired: boolean): Promise<boolean> =>
    run(async () => {
      await put(`/api/operators/${encodeURIComponent(name)}`, { isRetired });
      done((isRetired ? w.retiredNow : w.restored)(name));
    });
  const actions = (row: OperatorRow): JSX.Element => (
    <span class="actions">
      <button type="button" onClick={() => setOpen(row)}>
        {w.change}
      </button>
      {row.name === state.operator?.name ? null : (
        <button type="button" aria-disabled={isBusy} onClick={() => retire(row, !row.isRetired)}>
          {row.isRetired ? w.restore : w.retire}
        </button>
      )}
    </span>
  );
  return (
    <Show loaded={loaded}>
      {(rows) => (
        <>
          <Table
            name={w.table}
            heads={[w.heads.name, w.heads.role, w.heads.since, w.heads.state, w.heads.actions].map((says) => ({
              says,
            }))}
            rows={rows.map((row) => ({
              key: row.name,
              cells: [
                row.name === state.operator?.name ? `${row.name} (${w.you})` : row.name,
                words.terms.roles[row.role],
                format.day(row.addedAt),
                row.isRetired ? w.retired : w.active,
                actions(row),
              ],
            }))}
          />
          {problem}
          {open === undefined ? (
            <p class="actions">
              <button type="button" class="first" onClick={() => setOpen('new')}>
                {w.add}
              </button>
            </p>
          ) : (
            <OperatorForm
              key={open === 'new' ? '' : open.name}
              onDone={done}
              {...(open === 'new' ? {} : { known: open })}
            />
          )}
        </>
      )}
    </Show>
  );
}
