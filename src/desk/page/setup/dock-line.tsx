/** One dock in one sentence, as it is now. */
import type { JSX } from 'preact';
import type { DeskDock } from '../../api/live.ts';
import { Refusal } from '../call.ts';
import type { Format } from '../format.ts';
import { useHere } from '../here.ts';
import { RefusalText } from '../parts/refusal.tsx';
import type { Words } from '../words.ts';

/** The sentence; trouble has one of its own. */
export function dockSentence(dock: DeskDock, words: Words, format: Format): string {
  const { phase: w } = words.setup;
  switch (dock.phase) {
    case 'absent':
      return w.absent;
    case 'reading':
      return w.reading(dock.read ?? 0, dock.held);
    case 'storing':
    case 'setting':
      return w.storing;
    case 'docked': {
      const { last } = dock;
      return last ? w.storedTests(format.count(last.tally.length, words.terms.tests), last.new) : w.stored;
    }
    default:
      return w.empty;
  }
}

export function DockLine({ dock }: { readonly dock: DeskDock }): JSX.Element {
  const { words, format } = useHere();
  const { trouble } = dock;
  return (
    <div class="card">
      <h2>{dock.name}</h2>
      {trouble && dock.phase !== 'docked' ? (
        <RefusalText refusal={new Refusal(trouble.code, trouble.message, trouble.hint)} />
      ) : (
        <p role="status">{dockSentence(dock, words, format)}</p>
      )}
    </div>
  );
}
