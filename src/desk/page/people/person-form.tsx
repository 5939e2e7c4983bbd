/** What is known of a person: adding one, or changing it. */
import type { JSX } from 'preact';
import { useState } from 'preact/hooks';
import type { PersonFacts } from '../../api/people.ts';
import { post, put } from '../call.ts';
import { useHere } from '../here.ts';
import { Field, Form } from '../parts/act.tsx';
import { useSay } from '../parts/said.tsx';

const EMPTY = { id: '', name: '', birthYear: '', reason: '', planDays: '', since: '', left: '', notes: '' };
const NUMBERS = ['birthYear', 'planDays'] as const;

/** The facts of a form's fields: empty ones are not known. */
function factsOf(fields: typeof EMPTY): PersonFacts {
  const filled = Object.entries(fields).flatMap(([key, value]) => {
    const text = value.trim();
    if (text === '' && key !== 'id') return [];
    return [[key, NUMBERS.some((n) => n === key) ? Number(text) : text]];
  });
  return Object.fromEntries(filled) as PersonFacts;
}

export function PersonForm({
  known,
  onDone,
}: {
  /** Of the person that is changed; absent: a new one. */
  readonly known?: Partial<typeof EMPTY> & { readonly id: string };
  /** The id then; undefined where nothing was done. */
  readonly onDone: (id: string | undefined) => void;
}): JSX.Element {
  const { words } = useHere();
  const { people: w } = words;
  const say = useSay();
  const [fields, setFields] = useState({ ...EMPTY, ...known });
  const send = async (): Promise<void> => {
    const facts = factsOf(fields);
    if (known) await put(`/api/people/${encodeURIComponent(known.id)}`, facts);
    else await post('/api/people', facts);
    say((known ? w.changed : w.added)(facts.name ?? facts.id));
    onDone(facts.id);
  };
  const order = [
    'id',
    'name',
    'birthYear',
    'reason',
    'planDays',
    'since',
    ...(known ? (['left'] as const) : []),
    'notes',
  ] as const;
  return (
    <Form onSend={send} send={words.shell.save} onCancel={() => onDone(undefined)} cancel={words.shell.cancel}>
      {order.map((key) => (
        <Field
          key={key}
          label={w.field[key]}
          isRequired={key === 'id'}
          value={fields[key]}
          onInput={(value) => setFields((f) => ({ ...f, [key]: value }))}
        />
      ))}
    </Form>
  );
}
