/** The list of people, searched as one types. */
import type { JSX } from 'preact';
import { useEffect, useRef, useState } from 'preact/hooks';
import type { PeopleList as PeopleFacts, PersonRow } from '../../api/people.ts';
import { useHere, useMay } from '../here.ts';
import { useData } from '../live.tsx';
import { useKeys } from '../parts/keys.ts';
import { Show } from '../parts/loaded.tsx';
import { Table } from '../parts/table.tsx';
import { addressOf, goTo } from '../router.ts';
import { APPOINTMENTS } from './appointments-page.tsx';
import { PersonForm } from './person-form.tsx';
import { standingMark } from './standing-mark.ts';

const STEP = 100;
/** A pause in typing after which is searched. */
const PAUSE_MS = 120;

export function PeopleList(): JSX.Element {
  const { words, format } = useHere();
  const { people: w } = words;
  const field = useRef<HTMLInputElement>(null);
  const [typed, setTyped] = useState('');
  const [search, setSearch] = useState('');
  const [limit, setLimit] = useState(STEP);
  const [isAdding, setIsAdding] = useState(false);
  const mayWork = useMay('work');
  useEffect(() => {
    const timer = setTimeout(() => {
      setSearch(typed);
      setLimit(STEP);
    }, PAUSE_MS);
    return () => clearTimeout(timer);
  }, [typed]);
  useKeys({ '/': () => field.current?.focus() });
  const loaded = useData<PeopleFacts>(`/api/people?search=${encodeURIComponent(search)}&limit=${limit}`);
  const first = loaded.data?.rows[0];
  return (
    <>
      <h1>{w.heading}</h1>
      <p>
        <a href={addressOf('people', APPOINTMENTS)}>{w.appointmentsOfDay}</a>
      </p>
      <form
        onSubmit={(event) => {
          event.preventDefault();
          if (first && typed === search) goTo('people', first.id);
        }}
      >
        <label class="field">
          <span>{w.search}</span>
          <input ref={field} type="search" value={typed} onInput={(event) => setTyped(event.currentTarget.value)} />
          <small>{w.searchHint}</small>
        </label>
      </form>
      {mayWork && !isAdding ? (
        <p class="actions">
          <button type="button" onClick={() => setIsAdding(true)}>
            {w.add}
          </button>
        </p>
      ) : null}
      {isAdding ? <PersonForm onDone={(id) => (id === undefined ? setIsAdding(false) : goTo('people', id))} /> : null}
      <Show loaded={loaded}>
        {({ total, rows }) =>
          rows.length === 0 ? (
            <p>{search === '' ? w.none : w.notFound}</p>
          ) : (
            <>
              <PeopleTable rows={rows} />
              <p class="mid">
                {w.shown(format.number(rows.length, 0), format.number(total, 0))}{' '}
                {rows.length < total ? (
                  <button type="button" onClick={() => setLimit((n) => Math.min(n + STEP, 500))}>
                    {w.more}
                  </button>
                ) : null}
              </p>
            </>
          )
        }
      </Show>
    </>
  );
}

function PeopleTable({ rows }: { readonly rows: readonly PersonRow[] }): JSX.Element {
  const { words, format } = useHere();
  const { people: w, terms } = words;
  const { columns } = w;
  return (
    <Table
      name={w.heading}
      heads={[
        { says: columns.person },
        { says: columns.id },
        { says: columns.born, isNumber: true },
        { says: columns.target },
        { says: columns.last },
        { says: columns.when },
        { says: columns.waiting, isNumber: true },
        { says: columns.overdue, isNumber: true },
      ]}
      rows={rows.map((p) => ({
        key: p.id,
        cells: [
          <a key="person" href={addressOf('people', p.id)}>
            {p.name ?? p.id}
          </a>,
          p.id,
          p.birthYear ?? '',
          p.target ? w.rangeWords(format.decimal(p.target.low), format.decimal(p.target.high)) : w.noTarget,
          p.last ? (
            <span key="last">
              <span aria-hidden="true">{standingMark(p.last.standing)}</span>{' '}
              {format.value(p.last.value, p.last.beyond)} {p.last.standing ? terms.standing[p.last.standing] : ''}
            </span>
          ) : (
            w.facts.noLast
          ),
          p.last ? format.shortDay(p.last.at) : '',
          p.waiting || '',
          p.overdueDays > 0 ? format.count(p.overdueDays, terms.days) : '',
        ],
      }))}
    />
  );
}
