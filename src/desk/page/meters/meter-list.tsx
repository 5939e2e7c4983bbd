/** The list of meters, the soonest to be read on top; strips and failed tests below it. */
import type { JSX } from 'preact';
import { useState } from 'preact/hooks';
import type { MeterRow } from '../../../reports/gather-meters.ts';
import type { MetersPage } from '../../api/house.ts';
import { useHere } from '../here.ts';
import { useData } from '../live.tsx';
import { Field } from '../parts/act.tsx';
import { Show } from '../parts/loaded.tsx';
import { Table } from '../parts/table.tsx';
import { addressOf } from '../router.ts';
import { FailedTests } from './failed-tests.tsx';
import { beforeWords, driftWords, holderWords } from './meter-words.ts';
import { Strips } from './strips.tsx';

const SOON_MS = 14 * 86_400_000;

export function MeterList(): JSX.Element {
  const { words } = useHere();
  const loaded = useData<MetersPage>('/api/meters');
  return (
    <>
      <h1>{words.meters.heading}</h1>
      <Show loaded={loaded}>{(report) => <Report report={report} />}</Show>
    </>
  );
}

function Report({ report }: { readonly report: MetersPage }): JSX.Element {
  const { words, format } = useHere();
  const [search, setSearch] = useState('');
  const { meters, now } = report;
  if (meters.length === 0)
    return (
      <>
        <p>{words.meters.none}</p>
        <Strips report={report} />
      </>
    );
  const named = (rows: readonly MeterRow[]): string => rows.map((m) => m.meterId).join(', ');
  const soon = meters.filter(({ forecast: f }) => f.kind === 'forecast' && f.cautiousAt < now + SOON_MS);
  const unseen = meters.filter((m) => m.daysUnseen !== undefined);
  const wanted = search.trim().toLowerCase();
  const shown = meters.filter((m) => `${m.meterId} ${m.person?.id} ${m.person?.name}`.toLowerCase().includes(wanted));
  const { columns } = words.meters;
  return (
    <>
      {soon.length > 0 ? <p class="needs-you">{words.meters.readSoon(named(soon))}</p> : null}
      {unseen.length > 0 ? (
        <p class="needs-you">
          {words.meters.unseen(unseen.map((m) => `${m.meterId} (${holderWords(m, words, format)})`).join(', '))}
        </p>
      ) : null}
      {meters
        .filter((m) => m.battery !== 'no sign')
        .map((m) => (
          <p key={m.meterId} class="needs-you">
            {words.meters.dying(m.meterId, m.battery === 'dying')}
          </p>
        ))}
      <Field label={words.meters.search} type="search" value={search} onInput={setSearch} />
      <Table
        name={words.meters.heading}
        heads={[
          { says: columns.meter },
          { says: columns.holder },
          { says: columns.seen },
          { says: columns.before },
          { says: columns.losses, isNumber: true },
          { says: columns.drift },
        ]}
        rows={shown.map((m) => ({
          key: `${m.model} ${m.meterId}`,
          cells: [
            <a key="meter" href={addressOf('meters', m.meterId, m.model)}>
              {m.meterId}
            </a>,
            m.person ? (
              <a key="person" href={addressOf('people', m.person.id)}>
                {format.person(m.person)}
              </a>
            ) : (
              words.meters.notLent
            ),
            m.seen === undefined ? words.meters.never : format.day(m.seen),
            beforeWords(m, now, words, format),
            m.powerLosses,
            driftWords(m, words, format),
          ],
        }))}
      />
      <p class="mid">{words.meters.cautious}</p>
      <p class="no-print">
        <a href="/print/meters" target="_blank" rel="noreferrer">
          {words.meters.print}
        </a>
      </p>
      <Strips report={report} />
      <FailedTests report={report} />
    </>
  );
}
