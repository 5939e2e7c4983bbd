/** A passphrase typed twice, and what is wrong with it before the server is asked. */
import type { JSX } from 'preact';
import { SHORTEST_PASSPHRASE } from '../../api/limits.ts';
import { Refusal } from '../call.ts';
import { useHere } from '../here.ts';
import { Field } from '../parts/act.tsx';
import type { Words } from '../words.ts';

/** As typed. */
export interface Typed {
  readonly passphrase: string;
  readonly again: string;
}

export const NOTHING_TYPED: Typed = { passphrase: '', again: '' };

/** What is wrong with it, in words; undefined where nothing is. */
function wrongWith({ passphrase, again }: Typed, words: Words['setup']['operator']): string | undefined {
  if ([...passphrase.normalize('NFC')].length < SHORTEST_PASSPHRASE) return words.tooShort(SHORTEST_PASSPHRASE);
  return passphrase === again ? undefined : words.differ;
}

/** Throws what is wrong with it. */
export function checkTyped(typed: Typed, words: Words['setup']['operator']): void {
  const wrong = wrongWith(typed, words);
  if (wrong !== undefined) throw new Refusal('PAGE', wrong, '');
}

export function PassphraseFields({
  typed,
  onInput,
  label,
  hint,
  isRequired = true,
}: {
  readonly typed: Typed;
  readonly onInput: (typed: Typed) => void;
  readonly label?: string;
  readonly hint?: string;
  readonly isRequired?: boolean;
}): JSX.Element {
  const { operator: w } = useHere().words.setup;
  return (
    <>
      <Field
        label={label ?? w.passphrase}
        hint={[w.passphraseHint(SHORTEST_PASSPHRASE), hint].filter(Boolean).join(' ')}
        type="password"
        autocomplete="new-password"
        isRequired={isRequired}
        value={typed.passphrase}
        onInput={(passphrase) => onInput({ ...typed, passphrase })}
      />
      <Field
        label={w.again}
        type="password"
        autocomplete="new-password"
        isRequired={isRequired}
        value={typed.again}
        onInput={(again) => onInput({ ...typed, again })}
      />
    </>
  );
}
