/** Where readings are forwarded to, how far behind that is, and pausing it. */
import type { JSX } from 'preact';
import type { DeskOutlet } from '../../api/live.ts';
import { post, Refusal } from '../call.ts';
import type { Format } from '../format.ts';
import { useHere, useMay } from '../here.ts';
import { useLive } from '../live.tsx';
import { useAct } from '../parts/act.tsx';
import { RefusalText } from '../parts/refusal.tsx';
import { useSay } from '../parts/said.tsx';
import { Table } from '../parts/table.tsx';
import type { Words } from '../words.ts';

/** How an outlet is, in words. */
function outletState(outlet: DeskOutlet, w: Words['setup']['outlets'], format: Format): string {
  const { state, trouble, nextTryAt } = outlet;
  if (state === 'paused') return w.paused;
  if (!trouble) return w.running;
  const down = w.isDown(format.moment(trouble.at));
  return nextTryAt === undefined ? down : `${down}, ${w.nextTry(format.time(nextTryAt))}`;
}

export function Outlets(): JSX.Element {
  const { words, format } = useHere();
  const { outlets: w } = words.setup;
  const mayManage = useMay('manage');
  const { status } = useLive();
  const say = useSay();
  const { run, isBusy, problem } = useAct();
  const outlets = status?.outlets ?? [];
  if (outlets.length === 0) return <p>{w.none}</p>;
  const change = ({ name, state }: DeskOutlet): Promise<boolean> =>
    run(async () => {
      const isPaused = state === 'paused';
      await post(`/api/outlets/${encodeURIComponent(name)}/${isPaused ? 'resume' : 'pause'}`, {});
      say((isPaused ? w.resumed : w.pausedNow)(name));
    });
  const { heads: h } = w;
  return (
    <>
      <Table
        name={w.table}
        heads={[
          { says: h.name },
          { says: h.kind },
          { says: h.state },
          { says: h.waiting, isNumber: true },
          { says: h.oldest },
          { says: h.sent },
          { says: h.setAside, isNumber: true },
          ...(mayManage ? [{ says: h.action }] : []),
        ]}
        rows={outlets.map((outlet) => ({
          key: outlet.name,
          cells: [
            outlet.name,
            outlet.kind,
            outletState(outlet, w, format),
            outlet.waiting,
            outlet.oldestAt === undefined ? w.nothing : format.moment(outlet.oldestAt),
            outlet.sentAt === undefined ? w.never : format.moment(outlet.sentAt),
            outlet.setAside,
            ...(mayManage
              ? [
                  <button key="change" type="button" aria-disabled={isBusy} onClick={() => change(outlet)}>
                    {outlet.state === 'paused' ? w.resume : w.pause}
                  </button>,
                ]
              : []),
          ],
        }))}
      />
      {outlets.map(({ name, state, trouble }) =>
        trouble && state === 'running' ? (
          <RefusalText key={name} refusal={new Refusal(trouble.code, `${name}: ${trouble.message}`, trouble.hint)} />
        ) : null,
      )}
      {outlets.some((outlet) => outlet.setAside > 0) ? <p class="mid">{w.setAsideHint}</p> : null}
      {problem}
    </>
  );
}
