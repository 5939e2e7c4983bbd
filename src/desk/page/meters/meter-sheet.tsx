/** One meter: how it stands, its time line, what happened, every download, who had it. */
import type { JSX } from 'preact';
import type { MeterPage } from '../../api/house.ts';
import { post } from '../call.ts';
import { useHere, useMay } from '../here.ts';
import { useData } from '../live.tsx';
import { useAct } from '../parts/act.tsx';
import { Show } from '../parts/loaded.tsx';
import { useSay } from '../parts/said.tsx';
import { Table } from '../parts/table.tsx';
import { addressOf } from '../router.ts';
import { clockWords, incidentWords, whenWords } from './incident-words.ts';
import { MeterTimeline } from './meter-timeline.tsx';
import { beforeWords, driftWords } from './meter-words.ts';

export function MeterSheet({ id, model }: { readonly id: string; readonly model: string | undefined }): JSX.Element {
  const { words } = useHere();
  const query = model === undefined ? '' : `?model=${encodeURIComponent(model)}`;
  const loaded = useData<MeterPage>(`/api/meters/${encodeURIComponent(id)}${query}`);
  return (
    <>
      <p class="no-print">
        <a href={addressOf('meters')}>{words.meters.back}</a>
      </p>
      <h1>{model === undefined ? id : `${model} ${id}`}</h1>
      <Show loaded={loaded}>{(page) => <Sheet page={page} />}</Show>
    </>
  );
}

function Sheet({ page }: { readonly page: MeterPage }): JSX.Element {
  const { words, format } = useHere();
  const { meter, incidents, downloads } = page;
  const { facts, incidentColumns, downloadColumns } = words.meters;
  const about = [
    page.firmware === undefined ? '' : words.meters.firmware(page.firmware),
    page.capacity === undefined ? '' : words.meters.capacity(format.count(page.capacity, words.terms.tests)),
  ].filter(Boolean);
  return (
    <>
      <p class="mid">
        {meter.person ? (
          <a href={addressOf('people', meter.person.id)}>{format.person(meter.person)}</a>
        ) : (
          words.meters.notLent
        )}
        {about.map((says) => ` · ${says}`)}
      </p>
      <div class="facts">
        <div>
          <b>{meter.seen === undefined ? words.meters.never : format.day(meter.seen)}</b>
          <span>{facts.seen}</span>
        </div>
        <div>
          <b>{beforeWords(meter, Date.now(), words, format)}</b>
          <span>{facts.before}</span>
        </div>
        <div>
          <b>{meter.powerLosses}</b>
          <span>{facts.losses}</span>
        </div>
        <div>
          <b>{driftWords(meter, words, format)}</b>
          <span>{facts.drift}</span>
        </div>
      </div>
      {meter.battery === 'no sign' ? null : (
        <p class="needs-you">{words.meters.dying(meter.meterId, meter.battery === 'dying')}</p>
      )}
      <h2>{words.meters.timeline}</h2>
      <MeterTimeline page={page} />
      <h2>{words.meters.incidents}</h2>
      {incidents.length === 0 ? (
        <p>{words.meters.noIncidents}</p>
      ) : (
        <Table
          name={words.meters.incidents}
          heads={[{ says: incidentColumns.when }, { says: incidentColumns.what }]}
          rows={incidents.map((incident, i) => ({
            key: `${incident.kind} ${incident.earliest} ${i}`,
            cells: [whenWords(incident, words, format), incidentWords(incident, words, format)],
          }))}
        />
      )}
      <h2>{words.meters.downloads}</h2>
      <Table
        name={words.meters.downloads}
        heads={[
          { says: downloadColumns.at },
          { says: downloadColumns.new, isNumber: true },
          { says: downloadColumns.known, isNumber: true },
          { says: downloadColumns.clock },
          { says: downloadColumns.note },
        ]}
        rows={downloads.map((d) => ({
          key: d.id,
          cells: [
            format.moment(d.at),
            d.new,
            d.known,
            `${clockWords(d.clockOffS, words, format)}${d.clockSet ? `, ${words.meters.clockSet}` : ''}`,
            [d.complete ? '' : words.meters.broken, d.possiblyLost ? words.meters.lost : ''].filter(Boolean).join('; '),
          ],
        }))}
      />
      <Lends page={page} />
    </>
  );
}

function Lends({ page }: { readonly page: MeterPage }): JSX.Element {
  const { words, format } = useHere();
  const say = useSay();
  const { run, isBusy, problem } = useAct();
  const mayWork = useMay('work');
  const { lendColumns: columns } = words.meters;
  const { meterId } = page.meter;
  const takeBack = (): Promise<boolean> =>
    run(async () => {
      await post('/api/lends/take-back', { meterId });
      say(words.meters.takenBack(meterId));
    });
  return (
    <section>
      <h2>{words.meters.lends}</h2>
      {page.lends.length === 0 ? (
        <p>{words.meters.noLends}</p>
      ) : (
        <Table
          name={words.meters.lends}
          heads={[{ says: columns.person }, { says: columns.from }, { says: columns.to }]}
          rows={page.lends.map((lend) => ({
            key: String(lend.no),
            cells: [
              <a key="person" href={addressOf('people', lend.id)}>
                {format.person(lend)}
              </a>,
              format.moment(lend.from),
              lend.to === undefined ? (
                <>
                  {words.meters.still}{' '}
                  {mayWork ? (
                    <button type="button" class="no-print" aria-disabled={isBusy} onClick={takeBack}>
                      {words.meters.takeBack}
                    </button>
                  ) : null}
                </>
              ) : (
                format.moment(lend.to)
              ),
            ],
          }))}
        />
      )}
      {problem}
    </section>
  );
}
