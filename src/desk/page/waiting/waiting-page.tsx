/** The page waiting. */
import type { JSX } from 'preact';
import { useHere } from '../here.ts';
import type { Route } from '../router.ts';

export function WaitingPage(_: { readonly route: Route }): JSX.Element {
  const { words } = useHere();
  return <h1>{words.shell.pages.waiting}</h1>;
}
