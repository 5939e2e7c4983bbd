/** Signing in. A locked desk goes on at the address where it was. */
import type { JSX } from 'preact';
import { useEffect, useRef, useState } from 'preact/hooks';
import type { DeskState } from '../../api/state.ts';
import { post, Refusal } from '../call.ts';
import { useHere } from '../here.ts';
import { Field, Form } from '../parts/act.tsx';
import { routeOf } from '../router.ts';

export function SignIn({ onDone }: { readonly onDone: (state: DeskState) => void }): JSX.Element {
  const { words, state, format } = useHere();
  const { signIn: w } = words.setup;
  const [name, setName] = useState('');
  const [passphrase, setPassphrase] = useState('');
  const [restS, setRestS] = useState(0);
  const main = useRef<HTMLElement>(null);
  useEffect(() => main.current?.querySelector('input')?.focus(), []);
  useEffect(() => {
    if (restS <= 0) return;
    const timer = setTimeout(() => setRestS(restS - 1), 1000);
    return () => clearTimeout(timer);
  }, [restS]);
  const send = async (): Promise<void> => {
    try {
      onDone(await post<DeskState>('/api/sign-in', { name, passphrase }));
    } catch (thrown) {
      setPassphrase('');
      if (!(thrown instanceof Refusal) || thrown.code !== 'SIGN_IN_RESTING') throw thrown;
      setRestS(thrown.restS);
      throw new Refusal('PAGE', w.tooMany, '');
    }
  };
  const { page, parts } = routeOf(location.hash);
  return (
    <main id="main" class="alone" ref={main}>
      <p class="mid">{state.clinic ?? 'tallydock'}</p>
      <h1>{w.title}</h1>
      {page === 'dock' && parts.length === 0 ? null : <p>{w.goesOn}</p>}
      <Form onSend={send} send={w.send}>
        <Field label={w.name} autocomplete="username" isRequired value={name} onInput={setName} />
        <Field
          label={w.passphrase}
          type="password"
          autocomplete="current-password"
          isRequired
          value={passphrase}
          onInput={setPassphrase}
        />
      </Form>
      {restS > 0 ? (
        <p role="timer">
          <strong>{format.count(restS, w.rest)}</strong>
        </p>
      ) : null}
      <p class="mid">{w.forgotten}</p>
    </main>
  );
}
