/** The page meters. */
import type { JSX } from 'preact';
import { useHere } from '../here.ts';
import type { Route } from '../router.ts';

export function MetersPage(_: { readonly route: Route }): JSX.Element {
  const { words } = useHere();
  return <h1>{words.shell.pages.meters}</h1>;
}
