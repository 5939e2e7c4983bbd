/** What was just done, in one sentence at the foot of the page, with its undo where there is one (key U). */
import { type ComponentChildren, createContext, type JSX } from 'preact';
import { useCallback, useContext, useEffect, useState } from 'preact/hooks';
import { useHere } from '../here.ts';
import { useKeys } from './keys.ts';
import { RefusalText } from './refusal.tsx';

interface Said {
  readonly sentence: string;
  readonly undo?: () => Promise<unknown>;
}

/** Says what was done; `undo` takes it back. */
export type Say = (sentence: string, undo?: () => Promise<unknown>) => void;

const SayContext = createContext<Say>(() => {});

export const useSay = (): Say => useContext(SayContext);

export function SaidProvider({ children }: { readonly children: ComponentChildren }): JSX.Element {
  const { words } = useHere();
  const [said, setSaid] = useState<Said>();
  const [refusal, setRefusal] = useState<unknown>();
  const say = useCallback<Say>((sentence, undo) => {
    setRefusal(undefined);
    setSaid(undo ? { sentence, undo } : { sentence });
  }, []);
  const undo = said?.undo;
  const takeBack = useCallback(async () => {
    if (!undo) return;
    try {
      await undo();
      setSaid({ sentence: words.shell.undone });
    } catch (thrown) {
      setRefusal(thrown);
    }
  }, [undo, words]);
  useKeys(undo ? { u: takeBack } : {});
  // A sentence in the language before is no sentence any more.
  useEffect(() => setSaid(undefined), [words]);
  useEffect(() => {
    if (!said || said.undo) return;
    const timer = setTimeout(() => setSaid(undefined), 6000);
    return () => clearTimeout(timer);
  }, [said]);
  return (
    <SayContext.Provider value={say}>
      {children}
      <div class="said no-print" role="status" aria-live="polite">
        {said ? (
          <p>
            {said.sentence}{' '}
            {undo ? (
              <button type="button" onClick={takeBack}>
                {words.shell.undo} <kbd>U</kbd>
              </button>
            ) : null}{' '}
            <button type="button" class="quiet" onClick={() => setSaid(undefined)}>
              {words.shell.close}
            </button>
          </p>
        ) : null}
        {refusal === undefined ? null : <RefusalText refusal={refusal} />}
      </div>
    </SayContext.Provider>
  );
}
