/** Keys of a page: one letter or name, while nothing is being typed and no dialog is open above. */
import { useLayoutEffect } from 'preact/hooks';

/** By `KeyboardEvent.key`, letters in lower case. */
export type Keys = Readonly<Record<string, () => unknown>>;

/** True where something is being typed or chosen. */
const isTyping = ({ target }: KeyboardEvent): boolean =>
  target instanceof HTMLElement && target.closest('input, textarea, select, [contenteditable]') !== null;

/** True where a key belongs to what has the focus: a field, or for Enter and Space a button or link. */
function isTaken(event: KeyboardEvent): boolean {
  if (event.ctrlKey || event.altKey || event.metaKey) return true;
  const at = event.target;
  if (!(at instanceof HTMLElement)) return false;
  if (isTyping(event) || at.closest('dialog[open]')) return true;
  return (event.key === 'Enter' || event.key === ' ') && at.closest('button, a, summary') !== null;
}

/** Listens for the keys as long as the part is shown. */
export function useKeys(keys: Keys): void {
  // Not after the next frame: a key that follows at once would still meet what was shown before.
  useLayoutEffect(() => {
    const press = (event: KeyboardEvent): void => {
      // A key held down too long answers once: never the next question as well, nor the button that comes to have the focus.
      if (event.repeat && event.key === 'Enter' && !isTyping(event)) event.preventDefault();
      const act = keys[event.key.length === 1 ? event.key.toLowerCase() : event.key];
      if (!act || event.defaultPrevented || isTaken(event)) return;
      event.preventDefault();
      act();
    };
    addEventListener('keydown', press);
    return () => removeEventListener('keydown', press);
  });
}
