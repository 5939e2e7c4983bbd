/** The docks and the ports of this PC, live; and the virtual meter. */
import type { JSX } from 'preact';
import { VIRTUAL_DOCK } from '../../api/limits.ts';
import { post, remove } from '../call.ts';
import { useHere } from '../here.ts';
import { useLive } from '../live.tsx';
import { useAct } from '../parts/act.tsx';
import { useSay } from '../parts/said.tsx';
import { Table } from '../parts/table.tsx';
import { AssignDock } from './assign-dock.tsx';
import { usePorts } from './use-ports.ts';

export function Docks(): JSX.Element {
  const { words } = useHere();
  const { docks: w } = words.setup;
  const ports = usePorts();
  const say = useSay();
  const { run, isBusy, problem } = useAct();
  if (!ports)
    return (
      <p class="mid" role="status">
        {words.shell.loading}
      </p>
    );
  const takeAway = (dock: string): Promise<boolean> =>
    run(async () => {
      await remove(`/api/docks/${encodeURIComponent(dock)}`);
      say(w.removed(dock));
    });
  const rows = ports.flatMap(({ port, says, dock }) =>
    dock === undefined
      ? []
      : [
          {
            key: dock,
            cells: [
              dock,
              port,
              says,
              <button key="remove" type="button" aria-disabled={isBusy} onClick={() => takeAway(dock)}>
                {w.remove}
              </button>,
            ],
          },
        ],
  );
  return (
    <>
      {rows.length === 0 ? (
        <p>{w.noDocks}</p>
      ) : (
        <Table
          name={w.table}
          heads={[w.heads.dock, w.heads.port, w.heads.says, w.heads.action].map((text) => ({ says: text }))}
          rows={rows}
        />
      )}
      {problem}
      <section>
        <h2>{w.add}</h2>
        <AssignDock ports={ports} onDone={(name) => say(w.assigned(name))} />
      </section>
      <VirtualMeter />
    </>
  );
}

function VirtualMeter(): JSX.Element {
  const { docks: w, firstRun } = useHere().words.setup;
  const { status } = useLive();
  const say = useSay();
  const { run, isBusy, problem } = useAct();
  const isTrying = status?.docks.some((dock) => dock.name === VIRTUAL_DOCK) ?? false;
  const act = (): Promise<boolean> =>
    run(async () => {
      await post(isTrying ? '/api/virtual/end' : '/api/virtual', {});
      say(isTrying ? w.virtualEnded : w.virtualBegun);
    });
  return (
    <section>
      <h2>{w.virtualTitle}</h2>
      <p>{firstRun.virtualHint}</p>
      {problem}
      <p class="actions">
        <button type="button" aria-disabled={isBusy} onClick={act}>
          {isTrying ? w.virtualEnd : w.virtualTry}
        </button>
      </p>
    </section>
  );
}
