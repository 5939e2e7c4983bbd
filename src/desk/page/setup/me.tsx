/** Whoever is signed in: what they may do, and how the desk is locked. */
import type { JSX } from 'preact';
import { useHere } from '../here.ts';

export function Me(): JSX.Element {
  const { words, state, format, lock } = useHere();
  const { settings: w } = words.setup;
  const { operator } = state;
  return (
    <>
      {operator ? (
        <section>
          <h2>{operator.name}</h2>
          <p>
            {w.role}: {words.terms.roles[operator.role]}. {w.mayDo[operator.role]}
          </p>
        </section>
      ) : null}
      <section>
        <h2>{w.lockTitle}</h2>
        <p>
          {w.lockWhere} {format.count(state.idleMinutes, w.lockHint)}
        </p>
        <p class="actions">
          <button type="button" onClick={lock}>
            {w.lockNow}
          </button>
        </p>
      </section>
    </>
  );
}
