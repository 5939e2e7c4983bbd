/** Can the meters be trusted: control tests, their materials, and the comparison with the laboratory. */
import type { JSX } from 'preact';
import { useHere } from '../here.ts';
import { addressOf, type Route } from '../router.ts';
import { Comparison } from './comparison.tsx';
import { ControlTests } from './control-tests.tsx';
import { Levels } from './levels.tsx';

const PARTS = ['tests', 'levels', 'comparison'] as const;
type Part = (typeof PARTS)[number];

const SHOWN: Readonly<Record<Part, () => JSX.Element>> = {
  tests: ControlTests,
  levels: Levels,
  comparison: Comparison,
};

export function ControlsPage({ route }: { readonly route: Route }): JSX.Element {
  const { words } = useHere();
  const shown = PARTS.find((part) => part === route.parts[0]) ?? 'tests';
  const Shown = SHOWN[shown];
  return (
    <>
      <h1>{words.controls.heading}</h1>
      <nav class="parts no-print" aria-label={words.controls.heading}>
        {PARTS.map((part) => (
          <a key={part} href={addressOf('controls', part)} aria-current={part === shown ? 'page' : undefined}>
            {words.controls.parts[part]}
          </a>
        ))}
      </nav>
      <Shown />
    </>
  );
}
