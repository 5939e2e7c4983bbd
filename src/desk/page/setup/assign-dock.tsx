/** Which port is the dock: the free ones, shown as their cables are plugged in; one is chosen and named. */
import type { JSX } from 'preact';
import { useState } from 'preact/hooks';
import { post } from '../call.ts';
import { useHere } from '../here.ts';
import { Field, Form } from '../parts/act.tsx';
import type { ShownPort } from './use-ports.ts';

/** Stands for a port that this PC does not list: that of a device server. */
const OTHER = '';

export function AssignDock({
  ports,
  onDone,
  onLater,
}: {
  readonly ports: readonly ShownPort[];
  /** With the name of the dock. */
  readonly onDone: (name: string) => void;
  /** Where it need not be done now. */
  readonly onLater?: () => void;
}): JSX.Element {
  const { docks: w, firstRun } = useHere().words.setup;
  const [chosen, setChosen] = useState<string>();
  const [other, setOther] = useState('');
  const [name, setName] = useState(w.nameStart);
  const free = ports.filter((port) => port.dock === undefined);
  // A port that was chosen may be pulled out again meanwhile.
  const isThere = chosen === OTHER || free.some((p) => p.port === chosen);
  const port = isThere ? chosen : free[0]?.port;
  const send = async (): Promise<void> => {
    await post('/api/docks', { name, port: port === OTHER ? other : port });
    onDone(name.trim());
  };
  const choice = (value: string, says: JSX.Element | string): JSX.Element => (
    <label key={value}>
      <input
        type="radio"
        name="port"
        required
        value={value}
        checked={value === port}
        onChange={() => setChosen(value)}
      />{' '}
      {says}
    </label>
  );
  return (
    <>
      {free.length === 0 ? <p role="status">{w.none}</p> : null}
      <Form onSend={send} send={w.assign} {...(onLater ? { onCancel: onLater, cancel: firstRun.later } : {})}>
        <fieldset class="choice">
          <legend>{w.ports}</legend>
          {free.map((p) =>
            choice(
              p.port,
              <>
                {p.port} <small>{p.says}</small> {p.isNew ? <strong>{w.isNew}</strong> : null}
              </>,
            ),
          )}
          {choice(OTHER, w.other)}
        </fieldset>
        {port === OTHER ? (
          <Field label={w.otherPort} hint={w.otherHint} isRequired value={other} onInput={setOther} />
        ) : null}
        <Field label={w.name} isRequired value={name} onInput={setName} />
      </Form>
    </>
  );
}
