/** All meters and what needs looking after; or one of them. */
import type { JSX } from 'preact';
import type { Route } from '../router.ts';
import { MeterList } from './meter-list.tsx';
import { MeterSheet } from './meter-sheet.tsx';

export function MetersPage({ route }: { readonly route: Route }): JSX.Element {
  const [id, model] = route.parts;
  return id === undefined ? <MeterList /> : <MeterSheet id={id} model={model} />;
}
