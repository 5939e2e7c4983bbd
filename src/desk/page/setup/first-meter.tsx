/** The last step of the first run: the dock as it is now, and the virtual meter for those who have none at hand. */
import type { JSX } from 'preact';
import { VIRTUAL_DOCK } from '../../api/limits.ts';
import { post } from '../call.ts';
import { useHere } from '../here.ts';
import { useLive } from '../live.tsx';
import { useAct } from '../parts/act.tsx';
import { DockLine } from './dock-line.tsx';

export function FirstMeter({
  onDone,
  onBack,
}: {
  readonly onDone: () => void;
  readonly onBack: () => void;
}): JSX.Element {
  const { firstRun: w, docks: d } = useHere().words.setup;
  const { status } = useLive();
  const { run, isBusy, problem } = useAct();
  const docks = status?.docks ?? [];
  const isTrying = docks.some((dock) => dock.name === VIRTUAL_DOCK);
  return (
    <>
      <p>{docks.length > 0 ? w.meterHint : w.noDock}</p>
      {docks.map((dock) => (
        <DockLine key={dock.name} dock={dock} />
      ))}
      <p class="mid">{w.virtualHint}</p>
      {problem}
      <p class="actions">
        <button type="button" class="first" onClick={onDone}>
          {w.done}
        </button>
        {isTrying ? null : (
          <button type="button" aria-disabled={isBusy} onClick={() => run(() => post('/api/virtual', {}))}>
            {d.virtualTry}
          </button>
        )}
        <button type="button" onClick={onBack}>
          {w.back}
        </button>
      </p>
    </>
  );
}
