/** One dock in a few sentences, as it is now. */
import type { JSX } from 'preact';
import type { DeskDock } from '../../api/live.ts';
import { dockSentences } from '../dock/dock-words.ts';
import { useHere } from '../here.ts';

export function DockLine({ dock }: { readonly dock: DeskDock }): JSX.Element {
  const { words, format } = useHere();
  return (
    <section class="card" aria-label={dock.name}>
      <h2>{dock.name}</h2>
      <div aria-live={dock.phase === 'reading' ? 'off' : 'polite'}>
        {dockSentences(dock, words, format).map(({ says, needsYou }) => (
          <p key={says} class={needsYou ? 'needs-you' : undefined}>
            {says}
          </p>
        ))}
      </div>
    </section>
  );
}
