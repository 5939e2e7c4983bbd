/** Asks for a reason: one of the usual ones by its number, or in own words. */
import type { JSX } from 'preact';
import { useLayoutEffect, useRef, useState } from 'preact/hooks';
import { useHere } from '../here.ts';
import { useKeys } from '../parts/keys.ts';

export function GiveReason({
  reasons,
  send,
  onGiven,
  onCancel,
}: {
  readonly reasons: readonly string[];
  /** What the button says. */
  readonly send: string;
  readonly onGiven: (reason: string) => unknown;
  readonly onCancel: () => void;
}): JSX.Element {
  const { words } = useHere();
  const { waiting: w, shell } = words;
  const [own, setOwn] = useState('');
  const first = useRef<HTMLButtonElement>(null);
  useLayoutEffect(() => first.current?.focus(), []);
  useKeys(Object.fromEntries(reasons.map((reason, i) => [String(i + 1), () => onGiven(reason)])));
  return (
    <form
      onSubmit={(event) => {
        event.preventDefault();
        if (own.trim() !== '') onGiven(own.trim());
      }}
      onKeyDown={(event) => {
        if (event.key === 'Escape') onCancel();
      }}
    >
      <fieldset class="plain">
        <legend>{w.reason}</legend>
        <p class="actions">
          {reasons.map((reason, i) => (
            <button key={reason} {...(i === 0 ? { ref: first } : {})} type="button" onClick={() => onGiven(reason)}>
              {reason} <kbd>{i + 1}</kbd>
            </button>
          ))}
        </p>
        <label class="field">
          <span>{w.ownReason}</span>
          <input value={own} onInput={(event) => setOwn(event.currentTarget.value)} />
        </label>
      </fieldset>
      <p class="actions">
        <button type="submit" class="first" aria-disabled={own.trim() === ''}>
          {send}
        </button>
        <button type="button" onClick={onCancel}>
          {shell.cancel}
        </button>
      </p>
    </form>
  );
}
