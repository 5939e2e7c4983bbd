/** The cautions, and the language. */
import type { JSX } from 'preact';
import { useHere } from '../here.ts';
import { LANGUAGE_NAMES, type Language } from '../words.ts';

export function Footer(): JSX.Element {
  const { words, language, choose, state } = useHere();
  return (
    <footer class="foot">
      <p>{words.shell.caution}</p>
      <p class="no-print">
        <label>
          {words.shell.language}{' '}
          <select value={language} onChange={(event) => choose(event.currentTarget.value as Language)}>
            {Object.entries(LANGUAGE_NAMES).map(([code, name]) => (
              <option key={code} value={code}>
                {name}
              </option>
            ))}
          </select>
        </label>{' '}
        tallydock {state.version}
      </p>
    </footer>
  );
}
