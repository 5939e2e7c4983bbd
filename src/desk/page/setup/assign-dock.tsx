/** Which port is the dock: the free ones, shown as their cables are plugged in; one is chosen and named. */
import type { JSX } from 'preact';
import { useState } from 'preact/hooks';
import { post } from '../call.ts';
import { useHere } from '../here.ts';
import { Field, Form } from '../parts/act.tsx';
import type { ShownPort } from './use-ports.ts';

export function AssignDock({
  ports,
  onDone,
}: {
  readonly ports: readonly ShownPort[];
  /** With the name of the dock. */
  readonly onDone: (name: string) => void;
}): JSX.Element {
  const { docks: w } = useHere().words.setup;
  const [chosen, setChosen] = useState<string>();
  const [name, setName] = useState(w.nameStart);
  const free = ports.filter((port) => port.dock === undefined);
  const port = free.find((p) => p.port === chosen) ?? free[0];
  if (!port) return <p role="status">{w.none}</p>;
  const send = async (): Promise<void> => {
    await post('/api/docks', { name, port: port.port });
    onDone(name);
  };
  return (
    <Form onSend={send} send={w.assign}>
      <fieldset class="choice">
        <legend>{w.ports}</legend>
        {free.map((p) => (
          <label key={p.port}>
            <input type="radio" name="port" value={p.port} checked={p === port} onChange={() => setChosen(p.port)} />{' '}
            {p.port} <small>{p.says}</small> {p.isNew ? <strong>{w.isNew}</strong> : null}
          </label>
        ))}
      </fieldset>
      <Field label={w.name} isRequired value={name} onInput={setName} />
    </Form>
  );
}
