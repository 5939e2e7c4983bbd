/** Everything that waits, one card after the other. */
import type { JSX } from 'preact';
import { useHere } from '../here.ts';
import type { Route } from '../router.ts';
import { WaitingCards } from './waiting-cards.tsx';

export function WaitingPage(_: { readonly route: Route }): JSX.Element {
  const { words } = useHere();
  return (
    <>
      <h1>{words.waiting.heading}</h1>
      <WaitingCards isShort={false} />
    </>
  );
}
