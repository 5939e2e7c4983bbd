/** The page month. */
import type { JSX } from 'preact';
import { useHere } from '../here.ts';
import type { Route } from '../router.ts';

export function MonthPage(_: { readonly route: Route }): JSX.Element {
  const { words } = useHere();
  return <h1>{words.shell.pages.month}</h1>;
}
