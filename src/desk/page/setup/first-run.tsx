/** FirstRun. */
import type { JSX } from 'preact';
import type { DeskState } from '../../api/state.ts';
import { useHere } from '../here.ts';

export function FirstRun(_: { readonly onDone: (state: DeskState) => void }): JSX.Element {
  const { words } = useHere();
  return <main class="alone">{words.setup.title}</main>;
}
