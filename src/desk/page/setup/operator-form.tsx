/** A new operator, or role and passphrase of one. */
import type { JSX } from 'preact';
import { useEffect, useRef, useState } from 'preact/hooks';
import type { OperatorRow } from '../../api/house.ts';
import { ROLES, type Role } from '../../api/state.ts';
import { post, put } from '../call.ts';
import { useHere } from '../here.ts';
import { Field, Form } from '../parts/act.tsx';
import { checkTyped, NOTHING_TYPED, PassphraseFields } from './passphrase-fields.tsx';

export function OperatorForm({
  known,
  onDone,
}: {
  /** Absent: a new one. */
  readonly known?: OperatorRow;
  /** With the sentence of what was done; without one where nothing was. */
  readonly onDone: (sentence?: string) => void;
}): JSX.Element {
  const { words, state, refresh } = useHere();
  const { operators: w, operator: o, settings } = words.setup;
  const [name, setName] = useState(known?.name ?? '');
  const [role, setRole] = useState<Role>(known?.role ?? 'work');
  const [typed, setTyped] = useState(NOTHING_TYPED);
  const heading = useRef<HTMLHeadingElement>(null);
  useEffect(() => heading.current?.focus(), []);
  const send = async (): Promise<void> => {
    const keepsOld = known !== undefined && typed.passphrase === '' && typed.again === '';
    if (!keepsOld) checkTyped(typed, o);
    if (known) {
      await put(`/api/operators/${encodeURIComponent(known.name)}`, {
        role,
        ...(keepsOld ? {} : { passphrase: typed.passphrase }),
      });
      // A new passphrase of one's own ends the session, a new role changes what is shown.
      if (known.name === state.operator?.name) await refresh();
    } else await post('/api/operators', { name, role, passphrase: typed.passphrase });
    onDone((known ? w.changed : w.added)(name.trim()));
  };
  return (
    <section>
      <h2 ref={heading} tabIndex={-1}>
        {known ? w.changeTitle(known.name) : w.add}
      </h2>
      <Form
        onSend={send}
        send={known ? words.shell.save : w.addSend}
        onCancel={() => onDone()}
        cancel={words.shell.cancel}
      >
        {known ? null : <Field label={o.name} isRequired value={name} onInput={setName} />}
        <fieldset class="choice">
          <legend>{settings.role}</legend>
          {ROLES.map((r) => (
            <label key={r}>
              <input type="radio" name="role" value={r} checked={r === role} onChange={() => setRole(r)} />{' '}
              {words.terms.roles[r]} <small>{settings.mayDo[r]}</small>
            </label>
          ))}
        </fieldset>
        <PassphraseFields
          typed={typed}
          onInput={setTyped}
          isRequired={!known}
          {...(known ? { label: w.newPassphrase, hint: w.newPassphraseHint } : {})}
        />
      </Form>
    </section>
  );
}
