/** The month of the clinic: critical values first, then who needs a look, then the figures. */
import type { ComponentChildren, JSX } from 'preact';
import type { MonthPage as MonthFacts } from '../../api/house.ts';
import { useHere } from '../here.ts';
import { useData } from '../live.tsx';
import { Field } from '../parts/act.tsx';
import { Show } from '../parts/loaded.tsx';
import { type Row, Table } from '../parts/table.tsx';
import { addressOf, goTo, type Route } from '../router.ts';
import { criterionWords } from './criterion-words.ts';

/** So many rows stand in a list on the screen. */
const SHOWN = 25;

export function MonthPage({ route }: { readonly route: Route }): JSX.Element {
  const { words, format } = useHere();
  const [chosen] = route.parts;
  const month = chosen ?? format.isoDay(Date.now()).slice(0, 7);
  const loaded = useData<MonthFacts>(`/api/month?month=${encodeURIComponent(month)}`);
  return (
    <>
      <h1>{words.month.heading(monthName(month, format.date))}</h1>
      <div class="no-print">
        <Field
          label={words.month.choose}
          type="month"
          value={month}
          onInput={(value) => value && goTo('month', value)}
        />
      </div>
      <Show loaded={loaded}>{(report) => <Month report={report} />}</Show>
      <p class="no-print">
        <a href={`/print/month?month=${encodeURIComponent(month)}`} target="_blank" rel="noreferrer">
          {words.month.print}
        </a>
      </p>
    </>
  );
}

/** `March 2026` of `2026-03`: the date of its first day without the day. */
const monthName = (month: string, date: (iso: string) => string): string =>
  /^\d{4}-\d{2}$/.test(month) ? date(`${month}-01`).replace(/^1\.? /, '') : month;

function Month({ report }: { readonly report: MonthFacts }): JSX.Element {
  const { words, format } = useHere();
  const { month: w, terms } = words;
  const { timeInRange: range, tests, holds, downloads, controls } = report;
  const share = (value: number): string => `${format.number(value * 100)} %`;
  const who = (p: { readonly id: string; readonly name?: string }): JSX.Element => (
    <a key={p.id} href={addressOf('people', p.id)}>
      {format.person(p)}
    </a>
  );
  return (
    <>
      {report.isOver ? null : <p class="mid">{w.notOver(format.moment(report.until))}</p>}
      <div class="facts">
        <Fact figure={report.people} says={w.facts.people} />
        <Fact figure={report.peopleTested} says={w.facts.tested} />
        <Fact figure={tests.clear} says={w.facts.clear(report.analyte)} />
        {range.quartiles ? <Fact figure={format.percent(range.quartiles.middle)} says={w.facts.middle} /> : null}
      </div>
      <Part heading={w.critical}>
        {report.critical.length === 0 ? (
          <p>{w.noCritical}</p>
        ) : (
          <>
            <p class="needs-you">{w.criticalAsk(format.count(report.critical.length, w.criticalValues))}</p>
            <List
              name={w.critical}
              heads={[
                { says: w.columns.time },
                { says: w.columns.person },
                { says: w.columns.value, isNumber: true },
                { says: w.columns.standing },
              ]}
              rows={report.critical.map((c) => ({
                key: c.reading,
                cells: [
                  format.moment(c.takenAt),
                  c.person === undefined
                    ? w.unknownWhose
                    : who({ id: c.person, ...(c.name === undefined ? {} : { name: c.name }) }),
                  `${c.analyte} ${format.value(c.value, c.beyond)}`,
                  `${terms.standing[c.standing]}${c.status === 'held' ? ` (${w.waits})` : ''}`,
                ],
              }))}
            />
          </>
        )}
      </Part>
      <Part heading={w.overdue(format.day(report.asOf))}>
        {report.overdue.length === 0 ? (
          <p>{w.nobody}</p>
        ) : (
          <List
            name={w.overdue(format.day(report.asOf))}
            heads={[
              { says: w.overdueColumns.person },
              { says: w.overdueColumns.overdue, isNumber: true },
              { says: w.overdueColumns.since, isNumber: true },
            ]}
            rows={report.overdue.map((p) => ({
              key: p.id,
              cells: [who(p), p.overdueDays || w.noPlan, p.daysSinceTest ?? w.never],
            }))}
          />
        )}
      </Part>
      <Part heading={w.reassess}>
        <p class="mid">{w.reassessAbout}</p>
        {report.reassess.length === 0 ? (
          <p>{w.nobody}</p>
        ) : (
          <List
            name={w.reassess}
            heads={[{ says: w.columns.person }, { says: w.reassess }]}
            rows={report.reassess.map((p) => ({
              key: p.id,
              cells: [who(p), p.criteria.map((c) => criterionWords(c, words, format)).join('; ')],
            }))}
          />
        )}
      </Part>
      <Part heading={w.range}>
        <p>{w.rangeAbout(format.count(range.known, terms.people), String(range.unknown))}</p>
        <Tenths tenths={range.tenths} />
        <p>
          {range.under.length === 0
            ? w.nobodyUnder(format.percent(range.underShare))
            : w.under(format.count(range.under.length, terms.people), format.percent(range.underShare))}
        </p>
        {range.under.length === 0 ? null : (
          <List
            name={w.range}
            heads={[{ says: w.columns.person }, { says: w.testColumns.share, isNumber: true }]}
            // Cut, not rounded: 64.6 % does not stand under 65 % as 65 %.
            rows={range.under.map((p) => ({
              key: p.id,
              cells: [who(p), format.percent(Math.floor(p.fraction * 100 + 1e-9) / 100)],
            }))}
          />
        )}
      </Part>
      <Part heading={w.tests}>
        <List
          name={w.tests}
          heads={[
            { says: w.testColumns.standing },
            { says: w.testColumns.tests, isNumber: true },
            { says: w.testColumns.share, isNumber: true },
          ]}
          rows={tests.standings.map((s) => ({
            key: s.standing,
            cells: [
              terms.standing[s.standing],
              s.tests,
              tests.clear === 0 ? '' : format.percent(s.tests / tests.clear),
            ],
          }))}
        />
        {tests.others > 0 && <p>{w.others(format.count(tests.others, w.values), report.analyte)}</p>}
        <p>
          {w.besides(
            format.count(tests.held, w.values),
            format.count(tests.void, w.values),
            format.count(tests.errors, terms.tests),
          )}{' '}
          {tests.errorShare
            ? w.errorShare(share(tests.errorShare.estimate), share(tests.errorShare.low), share(tests.errorShare.high))
            : null}
        </p>
      </Part>
      <Part heading={w.holds}>
        <p>{w.holdsAbout(format.count(holds.open, terms.readings), String(holds.released))}</p>
      </Part>
      <Part heading={w.downloads}>
        <p>
          {w.downloadsAbout(
            format.count(downloads.all, w.downloadCount),
            format.count(downloads.meters, terms.meters),
            String(downloads.incomplete),
            String(downloads.damaged),
          )}
        </p>
        {downloads.possiblyLost.length === 0 ? (
          <p>{w.noLost}</p>
        ) : (
          <>
            <p class="needs-you">{w.lost}</p>
            <ul>
              {downloads.possiblyLost.map((l) => (
                <li key={l.download}>{w.lostMeter(l.meter, format.moment(l.at))}</li>
              ))}
            </ul>
          </>
        )}
      </Part>
      <Part heading={w.controls}>
        <Controls controls={controls} />
      </Part>
      <Part heading={w.happened}>
        {report.incidents.length === 0 ? (
          <p>{w.nothing}</p>
        ) : (
          <List
            name={w.happened}
            heads={[{ says: w.happenedColumns.what }, { says: w.happenedColumns.times, isNumber: true }]}
            rows={report.incidents.map(({ kind, count }) => ({
              key: kind,
              cells: [words.meters.incident[kind], count],
            }))}
          />
        )}
      </Part>
    </>
  );
}

const Fact = ({ figure, says }: { readonly figure: ComponentChildren; readonly says: string }): JSX.Element => (
  <div>
    <b>{figure}</b>
    <span>{says}</span>
  </div>
);

const Part = ({
  heading,
  children,
}: {
  readonly heading: string;
  readonly children: ComponentChildren;
}): JSX.Element => (
  <section>
    <h2>{heading}</h2>
    {children}
  </section>
);

/** A table of the first rows, and how many more there are. */
function List(props: {
  readonly name: string;
  readonly heads: Parameters<typeof Table>[0]['heads'];
  readonly rows: readonly Row[];
}): JSX.Element {
  const { words, format } = useHere();
  const more = props.rows.length - SHOWN;
  return (
    <>
      <Table {...props} rows={props.rows.slice(0, SHOWN)} />
      {more > 0 ? <p class="mid">{words.month.more(format.number(more, 0))}</p> : null}
    </>
  );
}

/** How many people have which time in range. */
function Tenths({ tenths }: { readonly tenths: readonly number[] }): JSX.Element {
  const { words, format } = useHere();
  return (
    <Table
      name={words.month.range}
      heads={[{ says: words.month.tenthColumns.share }, { says: words.month.tenthColumns.people, isNumber: true }]}
      rows={tenths.map((n, i) => ({
        key: String(i),
        cells: [words.month.tenth(format.percent(i / 10), format.percent((i + 1) / 10)), n],
      }))}
    />
  );
}

function Controls({ controls }: { readonly controls: MonthFacts['controls'] }): JSX.Element {
  const { words } = useHere();
  const { controlColumns: columns, controlKinds } = words.month;
  const kinds = (['liquid', 'electronic', 'unknown'] as const).filter((kind) =>
    Object.values(controls[kind]).some((n) => n > 0),
  );
  if (kinds.length === 0) return <p>{words.month.noControls}</p>;
  return (
    <Table
      name={words.month.controls}
      heads={[
        { says: columns.kind },
        { says: columns.accept, isNumber: true },
        { says: columns.warn, isNumber: true },
        { says: columns.reject, isNumber: true },
        { says: columns.unassigned, isNumber: true },
      ]}
      rows={kinds.map((kind) => {
        const { accept, warn, reject, unassigned } = controls[kind];
        return { key: kind, cells: [controlKinds[kind], accept, warn, reject, unassigned] };
      })}
    />
  );
}
