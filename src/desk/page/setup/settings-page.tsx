/** Who may use the desk, the docks, the outlets, backups. */
import type { JSX } from 'preact';
import { useHere } from '../here.ts';
import type { Route } from '../router.ts';

export function SettingsPage(_: { readonly route: Route }): JSX.Element {
  const { words } = useHere();
  return <h1>{words.shell.pages.settings}</h1>;
}
