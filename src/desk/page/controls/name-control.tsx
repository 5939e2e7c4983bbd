/** Says which control a control test was made with. */
import type { JSX } from 'preact';
import { useState } from 'preact/hooks';
import type { ControlsPage } from '../../api/house.ts';
import { post } from '../call.ts';
import { useHere, useMay } from '../here.ts';
import { useAct } from '../parts/act.tsx';
import { useSay } from '../parts/said.tsx';

export function NameControl({
  readingId,
  levels,
}: {
  readonly readingId: string;
  readonly levels: ControlsPage['levels'];
}): JSX.Element | null {
  const { words } = useHere();
  const say = useSay();
  const { run, isBusy, problem } = useAct();
  const [chosen, setChosen] = useState('');
  if (!useMay('work') || levels.length === 0) return null;
  const send = (): Promise<boolean> =>
    run(async () => {
      await post('/api/controls/name', { readingId, levelNo: Number(chosen) });
      say(words.controls.named, () => post('/api/readings/undo', { readings: [readingId], reason: words.shell.undo }));
    });
  return (
    <span class="actions">
      <select
        aria-label={words.controls.nameIt}
        value={chosen}
        onChange={(event) => setChosen(event.currentTarget.value)}
      >
        <option value="">{words.controls.nameIt}</option>
        {levels.map((l) => (
          <option key={l.levelNo} value={l.levelNo}>
            {l.lot} {l.level} {l.analyte}
          </option>
        ))}
      </select>
      <button type="button" aria-disabled={isBusy || chosen === ''} onClick={() => chosen !== '' && send()}>
        {words.shell.save}
      </button>
      {problem}
    </span>
  );
}
