/** Finds a person by typing: arrows choose, Enter takes. */
import type { JSX } from 'preact';
import { useLayoutEffect, useRef, useState } from 'preact/hooks';
import type { PersonName } from '../../api/live.ts';
import type { PeopleList } from '../../api/people.ts';
import { useHere } from '../here.ts';
import { useData } from '../live.tsx';

export function FindPerson({
  onFound,
  onCancel,
}: {
  /** Null: nobody of ours. */
  readonly onFound: (person: PersonName | null) => unknown;
  readonly onCancel: () => void;
}): JSX.Element {
  const { words, format } = useHere();
  const { waiting: w, people, shell } = words;
  const field = useRef<HTMLInputElement>(null);
  const [typed, setTyped] = useState('');
  const [at, setAt] = useState(0);
  useLayoutEffect(() => field.current?.focus(), []);
  const found = useData<PeopleList>(
    typed.trim() === '' ? undefined : `/api/people?limit=8&search=${encodeURIComponent(typed)}`,
  );
  const rows = found.data?.rows ?? [];
  const chosen = rows[Math.min(at, rows.length - 1)];
  const press = (event: KeyboardEvent): void => {
    if (event.key === 'Escape') onCancel();
    else if (event.key === 'ArrowDown') setAt((n) => Math.min(n + 1, rows.length - 1));
    else if (event.key === 'ArrowUp') setAt((n) => Math.max(n - 1, 0));
    else if (event.key === 'Enter') {
      event.preventDefault();
      if (chosen) onFound(chosen);
      return;
    } else return;
    event.preventDefault();
  };
  return (
    <div>
      <label class="field">
        <span>{w.find}</span>
        <input
          ref={field}
          type="text"
          role="combobox"
          aria-expanded={rows.length > 0}
          aria-controls="found-people"
          aria-activedescendant={chosen ? `found-${chosen.id}` : undefined}
          value={typed}
          onInput={(event) => {
            setTyped(event.currentTarget.value);
            setAt(0);
          }}
          onKeyDown={press}
        />
        <small>{w.findHint}</small>
      </label>
      <div id="found-people" role="listbox" aria-label={people.heading} class="found">
        {rows.map((person) => (
          <button
            key={person.id}
            id={`found-${person.id}`}
            type="button"
            role="option"
            tabIndex={-1}
            aria-selected={person === chosen}
            class="card rest chosen"
            onClick={() => onFound(person)}
          >
            {format.person(person)} · {person.id}
            {person.birthYear === undefined ? '' : ` · ${people.born(String(person.birthYear))}`}
          </button>
        ))}
      </div>
      {typed.trim() !== '' && found.data && rows.length === 0 ? <p>{people.notFound}</p> : null}
      <p class="actions">
        <button type="button" onClick={() => onFound(null)}>
          {w.act.nobody}
        </button>
        <button type="button" onClick={onCancel}>
          {shell.cancel}
        </button>
      </p>
    </div>
  );
}
