/** A form or a button that asks the server for something: busy while it does, and what went wrong beside it. */
import type { ComponentChildren, JSX } from 'preact';
import { useId, useState } from 'preact/hooks';
import { RefusalText } from './refusal.tsx';

/** Runs work once at a time; gives what went wrong. */
export function useAct(): {
  readonly run: (work: () => Promise<unknown>) => Promise<boolean>;
  readonly isBusy: boolean;
  readonly problem: JSX.Element | null;
} {
  const [isBusy, setIsBusy] = useState(false);
  const [refusal, setRefusal] = useState<unknown>();
  const run = async (work: () => Promise<unknown>): Promise<boolean> => {
    if (isBusy) return false;
    setIsBusy(true);
    setRefusal(undefined);
    try {
      await work();
      return true;
    } catch (thrown) {
      setRefusal(thrown);
      return false;
    } finally {
      setIsBusy(false);
    }
  };
  return { run, isBusy, problem: refusal === undefined ? null : <RefusalText refusal={refusal} /> };
}

/** A form that sends by Enter or its button. */
export function Form({
  onSend,
  send,
  children,
  onCancel,
  cancel,
}: {
  /** Throws where the server refuses. */
  readonly onSend: () => Promise<unknown>;
  /** What the button says. */
  readonly send: string;
  readonly children: ComponentChildren;
  readonly onCancel?: () => void;
  readonly cancel?: string;
}): JSX.Element {
  const { run, isBusy, problem } = useAct();
  return (
    <form
      class="form"
      onSubmit={(event) => {
        event.preventDefault();
        void run(onSend);
      }}
    >
      {children}
      {problem}
      <p class="actions">
        <button type="submit" class="first" aria-disabled={isBusy}>
          {send}
        </button>
        {onCancel ? (
          <button type="button" onClick={onCancel}>
            {cancel}
          </button>
        ) : null}
      </p>
    </form>
  );
}

/** A labelled field. */
export function Field({
  label,
  hint,
  value,
  onInput,
  type = 'text',
  autocomplete = 'off',
  isRequired = false,
}: {
  readonly label: string;
  readonly hint?: string;
  readonly value: string;
  readonly onInput: (value: string) => void;
  readonly type?: 'text' | 'password' | 'date' | 'month' | 'datetime-local' | 'search';
  readonly autocomplete?: string;
  readonly isRequired?: boolean;
}): JSX.Element {
  const id = useId();
  return (
    <div class="field">
      <label for={id}>{label}</label>
      <input
        id={id}
        aria-describedby={hint ? `${id}-hint` : undefined}
        type={type as 'text'} // the library wants to know at once which of them
        autocomplete={autocomplete}
        required={isRequired}
        value={value}
        onInput={(event) => onInput(event.currentTarget.value)}
      />
      {hint ? <small id={`${id}-hint`}>{hint}</small> : null}
    </div>
  );
}
