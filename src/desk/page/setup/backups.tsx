/** A backup now, and those there are. */
import type { JSX } from 'preact';
import type { BackupRow } from '../../api/house.ts';
import { post } from '../call.ts';
import { useHere, useMay } from '../here.ts';
import { useData } from '../live.tsx';
import { useAct } from '../parts/act.tsx';
import { Show } from '../parts/loaded.tsx';
import { useSay } from '../parts/said.tsx';
import { Table } from '../parts/table.tsx';

const MEGABYTE = 1_000_000;

export function Backups(): JSX.Element {
  const { words, format } = useHere();
  const { backups: w } = words.setup;
  const mayWork = useMay('work');
  const loaded = useData<readonly BackupRow[]>('/api/backups');
  const say = useSay();
  const { run, isBusy, problem } = useAct();
  const backUp = (): Promise<boolean> =>
    run(async () => {
      await post('/api/backup', {});
      loaded.again();
      say(w.made);
    });
  return (
    <>
      {mayWork ? (
        <p class="actions">
          <button type="button" class="first" aria-disabled={isBusy} onClick={backUp}>
            {isBusy ? w.busy : w.now}
          </button>
        </p>
      ) : null}
      {problem}
      <Show loaded={loaded}>
        {(rows) =>
          rows.length === 0 ? (
            <p>{w.none}</p>
          ) : (
            <Table
              name={w.table}
              heads={[{ says: w.heads.at }, { says: w.heads.size, isNumber: true }, { says: w.heads.file }]}
              rows={rows.map(({ file, at, bytes }) => ({
                key: file,
                cells: [format.moment(at), `${format.number(bytes / MEGABYTE)} MB`, file],
              }))}
            />
          )
        }
      </Show>
      <p class="mid">{w.elsewhere}</p>
    </>
  );
}
