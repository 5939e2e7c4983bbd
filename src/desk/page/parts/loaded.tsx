/** Shows data when it is there, and says why not where it is not. */
import type { JSX } from 'preact';
import { useHere } from '../here.ts';
import type { Loaded } from '../live.tsx';
import { RefusalText } from './refusal.tsx';

export function Show<T>({
  loaded,
  children,
}: {
  readonly loaded: Loaded<T>;
  readonly children: (data: T) => JSX.Element;
}): JSX.Element {
  const { words } = useHere();
  return (
    <>
      {loaded.refusal ? <RefusalText refusal={loaded.refusal} /> : null}
      {loaded.data === undefined ? (
        loaded.refusal ? null : (
          <p class="mid" role="status">
            {words.shell.loading}
          </p>
        )
      ) : (
        children(loaded.data)
      )}
    </>
  );
}
