/** Why something was not done, and what to do, in the words of the catalogue. */
import type { JSX } from 'preact';
import { Refusal } from '../call.ts';
import { useHere } from '../here.ts';

export function RefusalText({ refusal }: { readonly refusal: unknown }): JSX.Element {
  const { words, language } = useHere();
  const { code, message, hint } = refusal instanceof Refusal ? refusal : new Refusal('INTERNAL', String(refusal), '');
  const known = words.faults[code];
  // The server's own sentence names what it was about; in another language only the catalogue is sure to be understood.
  const says = known && language !== 'en' ? known.says : message || known?.says;
  const todo = known && language !== 'en' ? known.todo : hint || known?.todo;
  return (
    <p class="needs-you" role="alert">
      {says} {todo}
    </p>
  );
}
